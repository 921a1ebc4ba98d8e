"""Give a PostgreSQL role what the server needs in the database, and no more."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError, connection, transaction
from typing_extensions import override

from jobs.rights import give_rights


class Command(BaseCommand):
    """``database_role NAME``: run as the owner of the tables, after every upgrade."""

    help = (
        "Let a PostgreSQL role add entries and read them, but neither change, delete nor empty "
        "them, nor alter a table. Run it with COLDBUS_DATABASE_URL naming the tables' owner; "
        "serve with COLDBUS_DATABASE_URL naming the role."
    )

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="the role; make it first: CREATE ROLE … LOGIN PASSWORD …")

    @override
    def handle(self, *_args: Any, **options: Any) -> None:
        if connection.vendor != "postgresql":
            raise CommandError("The data lie in the shop's own SQLite file: it knows no roles.")
        try:
            with transaction.atomic():
                give_rights(options["name"])
        except DatabaseError as reason:
            raise CommandError(str(reason).strip()) from None
        self.stdout.write(f"{options['name']} may add to the record and not change it.")
