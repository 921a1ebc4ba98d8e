"""The devices of the shop at the server itself, for a shop that has shut itself out."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from typing_extensions import override

from workshop import actions, clock, queries
from workshop.figures_text import clock_time


class Command(BaseCommand):
    """``devices``: list them; ``--code`` makes a code; ``--any`` lets people work at any device."""

    help = (
        "List the devices of the shop. Where nobody gets in any more: stop the server, make a code "
        "with --code or let people work at any device with --any, and start the server again."
    )

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--code", action="store_true", help="make a code that takes in one device, for 15 min"
        )
        parser.add_argument(
            "--any", action="store_true", help="let people work at devices that are not enrolled"
        )

    @override
    def handle(self, *_args: Any, **options: Any) -> None:
        zone = queries.shop().zone
        if options["any"]:
            actions.let_only_enrolled(only=False, by=None)
        if options["code"]:
            made = actions.make_device_code(by=None, now=clock.now())
            self.stdout.write(f"Code {made.code}, until {clock_time(made.ends_at, zone)}")
        rows = queries.devices()
        for each in rows:
            state = "turned away" if each.revoked_at else "enrolled"
            seen = each.seen_at.astimezone(zone)
            self.stdout.write(f"{each.name}: {state}, last worked at {seen:%Y-%m-%d %H:%M}")
        only = "enrolled devices only" if queries.shop().only_enrolled else "any device"
        self.stdout.write(f"{len(rows)} devices; people may work at {only}.")
