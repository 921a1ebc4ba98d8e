"""The office's passwords at the server itself, for a shop whose managers get in no more."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from typing_extensions import override

from workshop import actions, queries


class Command(BaseCommand):
    """``office_password``: ``--clear NAME`` takes one out of use, ``--off`` asks no longer."""

    help = (
        "Take somebody's password out of use, so that they set another by PIN, or ask nobody any "
        "more. Stop the server first."
    )

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--clear", metavar="NAME", help="short name of the person")
        parser.add_argument("--off", action="store_true", help="ask for no password any more")

    @override
    def handle(self, *_args: Any, **options: Any) -> None:
        name = options.get("clear")
        if name:
            found = [each for each in queries.people() if each.short_name == name]
            if not found:
                raise CommandError(f"Nobody here is called {name}.")
            actions.clear_password(person_id=found[0].id, by=None)
            self.stdout.write(f"{name} has no password any more.")
        if options.get("off"):
            actions.ask_office_password(ask=False, by=None)
        asks = queries.shop().office_password
        self.stdout.write("The office is asked for it." if asks else "It is off: nobody is asked.")
