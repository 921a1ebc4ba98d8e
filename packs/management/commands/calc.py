"""``manage.py calc`` as Django knows it: for its help, and for code that calls commands.

Here: only the way to packs/calc_door.py, which ``manage.py`` itself opens without Django.
"""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from typing_extensions import override

from packs import calc_door


class Command(BaseCommand):
    """Read JSON, print JSON; exit 2 when some of it could not be computed."""

    help = calc_door.SUMMARY
    requires_system_checks = ()

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        """Name, file and what else may be asked."""
        calc_door.add_arguments(parser)

    @override
    def handle(self, *args: Any, **options: Any) -> None:
        """Print what was asked for."""
        status = calc_door.run(options, self.stdout.write)
        if status:
            raise SystemExit(status)
