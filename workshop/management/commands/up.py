"""``manage.py up``: bring the shop's data up to date and serve it."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from typing_extensions import override

from workshop import queries
from workshop.serving import data_folder, server, sqlite, static_files
from workshop.serving.folder_lock import FolderInUse
from workshop.writing import folder_lock


class Command(BaseCommand):
    """Migrate, collect static files, load the demo where asked, and serve."""

    help = "Brings the shop's data up to date and serves it in the browser of this computer."
    # The checks run below, once the database stands.
    requires_system_checks = ()

    @override
    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the options."""
        parser.add_argument(
            "--demo", action="store_true", help="fill an empty database with an invented shop"
        )
        parser.add_argument("--no-serve", action="store_true", help="prepare everything, then stop")
        parser.add_argument(
            "--port",
            type=int,
            default=server.DEFAULT_PORT,
            help=f"port on this computer (default {server.DEFAULT_PORT}; 0 takes any free one)",
        )

    @override
    def handle(self, *args: Any, **options: Any) -> None:
        """Do it, in the order in which a later part needs an earlier one."""
        self.refuse_bad_folder()
        try:
            folder_lock().take("the Coldbus server")
            port = 0 if options["no_serve"] else server.choose_port(options["port"])
        except (FolderInUse, server.PortTaken) as reason:
            raise CommandError(str(reason)) from None
        try:
            self.prepare(demo=options["demo"])
            if options["no_serve"]:
                self.stdout.write("Everything is prepared.")
            else:
                server.serve(port, self.announce)
                self.stdout.write("Stopped.")
        finally:
            folder_lock().release()

    def refuse_bad_folder(self) -> None:
        """Stop where the data would lie on a disk that cannot keep them."""
        objection = data_folder.objection_to(Path(settings.COLDBUS_DATA), data_folder.mounts_here())
        if objection is not None:
            raise CommandError(objection)

    def prepare(self, *, demo: bool) -> None:
        """Bring database and static files up to date, and fill an empty database where asked."""
        if connection.vendor == "sqlite" and not sqlite.is_fixed(sqlite.version_in_use()):
            version = ".".join(str(part) for part in sqlite.version_in_use())
            self.stderr.write(
                f"CAUTION: SQLite {version} has a known fault that can damage the database when "
                "two programs use it at once. Keep good backups; 3.51.3 or newer mends it."
            )
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            self.stdout.write("Bringing the database up to date …")
            call_command("migrate", interactive=False, verbosity=0)
        # A migration can drop the triggers that keep entries append-only, without a word.
        call_command("guard")
        if static_files.collect_changed():
            self.stdout.write("Collected the static files.")
        if demo:
            self.load_demo()
        self.check()

    def load_demo(self) -> None:
        """Fill the database with the invented shop, unless somebody works in it already."""
        if queries.has_people():
            self.stdout.write("The database is not empty; the invented shop was not loaded.")
            return
        self.stdout.write("Loading the invented shop …")
        data_folder.mark_as_practice(Path(settings.COLDBUS_DATA))
        settings.COLDBUS_MOVABLE_CLOCK = True
        call_command("demo", "load")

    def announce(self, address: str) -> None:
        """Tell the person where to go."""
        self.stdout.write(f"Coldbus is ready: {address}   (stop with Ctrl+C)")
        self.stdout.flush()
