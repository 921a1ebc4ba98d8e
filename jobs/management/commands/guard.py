"""Make the triggers that keep entries append-only; run after every migration."""

from typing import Any

from django.core.management.base import BaseCommand
from typing_extensions import override

from jobs.triggers import create_triggers, missing_triggers


class Command(BaseCommand):
    """``guard``: make the triggers again; exit 0 when all are there."""

    help = "Make the triggers that refuse to change or delete entries."

    @override
    def handle(self, *_args: Any, **_options: Any) -> None:
        create_triggers()
        missing = missing_triggers()
        if missing:
            raise SystemExit("Missing triggers: " + ", ".join(missing))
