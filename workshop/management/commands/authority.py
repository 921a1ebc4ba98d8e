"""``manage.py authority``: what the workshop's own certificates are, and its key on a stick."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from typing_extensions import override

from workshop.serving.authority import keeping


class Command(BaseCommand):
    """Show the fingerprint; take the authority's key off, or bring it back."""

    help = "Shows the workshop's certificate authority; takes its key off to a stick, or back."

    @override
    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the options."""
        way = parser.add_mutually_exclusive_group()
        way.add_argument("--take-off", type=Path, metavar="FOLDER", help="move the key there")
        way.add_argument("--bring-back", type=Path, metavar="FILE", help="put the key back")
        way.add_argument(
            "--begin-anew",
            action="store_true",
            help="give this authority up; every tablet has to trust the next one",
        )

    @override
    def handle(self, *_args: Any, **options: Any) -> None:
        """Do what was asked, then show what there is."""
        folder = Path(settings.COLDBUS_DATA)
        try:
            if options["take_off"]:
                there = keeping.take_off(folder, options["take_off"])
                self.stdout.write(f"The key is at {there} and no more here. Keep it safe.")
            if options["bring_back"]:
                keeping.bring_back(folder, options["bring_back"])
                self.stdout.write("The key is back.")
            if options["begin_anew"]:
                keeping.begin_anew(folder)
                self.stdout.write(
                    "This authority is given up. Start the server anew: it makes another, and "
                    "every tablet has to trust that one. On each tablet, remove the old one."
                )
        except (OSError, ValueError) as fault:
            raise CommandError(f"{fault}. Nothing was changed.") from None
        told = keeping.told(folder)
        if told is None:
            self.stdout.write("No authority yet: the first start with --listen makes it.")
            return
        self.stdout.write(f"Authority, SHA-256: {told.fingerprint}")
        self.stdout.write(f"Its key: {'here' if told.key_here else 'taken off'}")
        if told.server_until is not None:
            named = ", ".join(sorted(told.names))
            self.stdout.write(f"Server's certificate: until {told.server_until:%Y-%m-%d}, {named}")
