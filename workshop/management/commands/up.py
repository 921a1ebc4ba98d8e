"""``manage.py up``: bring the shop's data up to date and serve it."""

import os
import socket
import sys
from argparse import ArgumentParser
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import segno
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from typing_extensions import override

from workshop import clock, queries
from workshop.backups import damage, database
from workshop.backups.making import make
from workshop.backups.manifest import BEFORE_MIGRATION
from workshop.backups.places import Places, is_sqlite, places
from workshop.backups.refusal import BackupRefused
from workshop.disk_full import is_disk_full
from workshop.serving import data_folder, local_name, network, server, sqlite, static_files
from workshop.serving.authority import keeping
from workshop.serving.folder_lock import FolderInUse
from workshop.serving.network import Listening, ListenRefused
from workshop.serving.renewal import Renewal
from workshop.wire import ENCRYPTED_VARIABLE
from workshop.writing import folder_lock

WAYS_ON: Final = {
    "--without-backup": "bring the database up to date even where no backup can be made first",
    "--after-loss": "go on although entries are missing; each tablet sends its last days again",
}


class Command(BaseCommand):
    """Migrate, collect static files, load the demo where asked, and serve."""

    help = "Brings the shop's data up to date and serves it, on this computer or in the workshop."
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
            help=f"port on this computer (default {network.DEFAULT_PORT}; 0 takes any free one)",
        )
        parser.add_argument(
            "--listen",
            default="",
            metavar="ADDRESS[:PORT]",
            help="serve the workshop's network too: 0.0.0.0 or one of this computer's addresses",
        )
        parser.add_argument(
            "--https-port",
            type=int,
            default=network.DEFAULT_HTTPS_PORT,
            help=f"port of https (default {network.DEFAULT_HTTPS_PORT}; 0 takes any free one)",
        )
        encryption = parser.add_mutually_exclusive_group()
        encryption.add_argument(
            "--https", action="store_true", help="https on this computer too, not on --listen alone"
        )
        encryption.add_argument(
            "--no-https",
            action="store_true",
            help="plain http only, even on the network: signing needs the connection there",
        )
        for word, what in WAYS_ON.items():
            parser.add_argument(word, action="store_true", help=what)

    @override
    def handle(self, *args: Any, **options: Any) -> None:
        """Do it, and let go of the data folder."""
        self.refuse_bad_folder()
        try:
            self.do(options)
        except (FolderInUse, ListenRefused, server.PortTaken) as reason:
            raise CommandError(str(reason)) from None
        finally:
            folder_lock().release()

    def do(self, options: Mapping[str, Any]) -> None:
        """Do it, in the order in which a later part needs an earlier one."""
        where = self.choose_place(options["listen"], options["port"])
        folder_lock().take("the Coldbus server")
        encrypted = options["https"] or not (where.is_loopback or options["no_https"])
        if not options["no_serve"]:
            where = self.choose_ports(where, options["https_port"] if encrypted else None)
        self.refuse_damaged_database(after_loss=options["after_loss"])
        self.prepare(demo=options["demo"], with_backup=not options["without_backup"])
        if options["no_serve"]:
            self.stdout.write("Everything is prepared.")
            return
        self.answer_to(where.names)
        kept = self.certificate(where.names) if encrypted else None
        data_folder.begin_serving(Path(settings.COLDBUS_DATA))
        self.serve(where, kept)
        data_folder.end_serving(Path(settings.COLDBUS_DATA))
        self.stdout.write("Stopped.")

    def choose_place(self, asked: str, port: int | None) -> Listening:
        """Decide where to listen; without being asked, on this computer only."""
        address, chosen = network.parse(asked, port)
        return network.listening(address, chosen, network.own_addresses(), socket.gethostname())

    def choose_ports(self, where: Listening, https_port: int | None) -> Listening:
        """Take the ports, or free ones; None for no https."""
        port = server.choose_port(where.address, where.port)
        if https_port is None:
            return replace(where, port=port)
        encrypted = server.choose_port(where.address, https_port)
        return replace(where, port=port, https_port=encrypted)

    def certificate(self, names: tuple[str, ...]) -> keeping.Kept:
        """Have a certificate for the names and addresses of now."""
        folder = Path(settings.COLDBUS_DATA)
        computer = network.computer_names(socket.gethostname())
        try:
            kept = keeping.prepare(folder, names, clock.now(), computer)
        except keeping.AuthorityAway:
            raise CommandError(
                "The server's certificate has to be made anew, because its names or addresses "
                "changed or it ends soon, and the authority's key was taken off. Bring it back "
                "with manage.py authority --bring-back FILE, or serve with --no-https."
            ) from None
        left_out = keeping.uncovered(folder, names)
        if left_out:
            self.stderr.write(
                f"CAUTION: the authority was made before this computer had the name "
                f"{' and '.join(left_out)}, so https works by its other names and addresses only. "
                "Use those, or make another authority with manage.py authority --begin-anew; "
                "every tablet then has to trust it again."
            )
        return kept

    def serve(self, where: Listening, kept: keeping.Kept | None) -> None:
        """Serve until told to stop, with the computer's name told to the network meanwhile."""
        os.environ[ENCRYPTED_VARIABLE] = "" if kept is None else str(where.https_port)
        with ExitStack() as at_the_end:
            told = at_the_end.enter_context(ExitStack())

            def ready(address: str) -> None:
                # Not before: telling the name runs threads, and the worker may be a fork.
                here = replace(where, names=renewal.names)
                self.announce(address, here, kept)
                withdraw = self.tell_name(here, encrypted=kept is not None)
                if withdraw is not None:
                    told.callback(withdraw)

            def renew(names: tuple[str, ...]) -> None:
                told.close()
                self.renew(names, encrypted=kept is not None)

            folder = None if kept is None else Path(settings.COLDBUS_DATA)
            renewal = Renewal(folder, where.names, lambda: self.names_now(where), renew)
            server.serve(where, ready, kept, renewal)

    def names_now(self, where: Listening) -> tuple[str, ...]:
        """Give the names and addresses that this computer has now, where it listens at all."""
        if where.address != network.EVERYWHERE:
            return where.names
        try:
            return self.choose_place(where.address, where.port).names
        except ListenRefused:
            # A public address has come: it is not answered by, and the others go on.
            return where.names

    def renew(self, names: tuple[str, ...], *, encrypted: bool) -> None:
        """Have the next worker answer by these names, with a certificate for them."""
        self.answer_to(names)
        if encrypted:
            try:
                self.certificate(names)
            except CommandError as away:
                # The names are answered all the same; the certificate goes on for the others.
                self.stderr.write(f"CAUTION: {away}")

    def tell_name(self, where: Listening, *, encrypted: bool) -> Callable[[], None] | None:
        """Tell the network this computer's name; None where nobody needs it or others do."""
        if where.is_loopback:
            return None
        if encrypted:
            return local_name.publish(where.names, "https", where.https_port)
        return local_name.publish(where.names, "http", where.port)

    def answer_to(self, names: tuple[str, ...]) -> None:
        """Let the server be asked by the names it has, and by no others."""
        hosts = [*settings.ALLOWED_HOSTS, *(name for name in names if name)]
        settings.ALLOWED_HOSTS = list(dict.fromkeys(hosts))
        # A worker that is not a fork reads its settings anew.
        os.environ["COLDBUS_HOSTS"] = ",".join(settings.ALLOWED_HOSTS)

    def refuse_damaged_database(self, *, after_loss: bool) -> None:
        """Stop before anything is written where the database is damaged or lacks entries."""
        here = places()
        if not settings.COLDBUS_PEPPER:
            raise CommandError(damage.words_about_pepper(here))
        if here.on_server:
            return
        if after_loss:
            self.set_log_aside(here)
        found = damage.look(here)
        if found is not None and not (after_loss and found.passable):
            raise CommandError(damage.words_of(here, found))
        self.let_tablets_send_again(here.data, after_loss=after_loss)
        if found is not None and found.weight is damage.Weight.FOREIGN:
            # Last: whoever is stopped before is asked once more.
            damage.take_as_ours(here, clock.now())

    def set_log_aside(self, here: Places) -> None:
        """Keep a log that is not whole apart, and go on with what could be read of it."""
        try:
            aside = damage.settle_log(here, clock.now())
        except (OSError, database.SqliteError) as reason:
            if is_disk_full(reason, here.data):
                raise
            raise CommandError(f"The log could not be set aside: {reason}.") from None
        if aside is not None:
            self.stdout.write(f"The damaged log is kept in {aside}")

    def let_tablets_send_again(self, folder: Path, *, after_loss: bool) -> None:
        """Begin another epoch after a loss, and after an end that may have hidden one."""
        if after_loss:
            data_folder.begin_epoch(folder)
        elif data_folder.ended_in_order(folder):
            return
        else:
            data_folder.begin_epoch(folder, of_this_life=True)
            self.stdout.write("The server was not stopped in order the last time.")
        data_folder.end_serving(folder)
        self.stdout.write(
            "Every tablet sends again what it sent in the last seven days; that is recorded once."
        )

    def refuse_bad_folder(self) -> None:
        """Stop where the data would lie on a disk that cannot keep them."""
        objection = data_folder.objection_to(Path(settings.COLDBUS_DATA), data_folder.mounts_here())
        if objection is not None:
            raise CommandError(objection)

    def prepare(self, *, demo: bool, with_backup: bool) -> None:
        """Bring database and static files up to date, and fill an empty database where asked."""
        if connection.vendor == "sqlite" and not sqlite.is_fixed(sqlite.version_in_use()):
            version = ".".join(str(part) for part in sqlite.version_in_use())
            self.stderr.write(
                f"CAUTION: SQLite {version} has a known fault that can damage the database when "
                "two programs use it at once. Keep good backups; 3.51.3 or newer mends it."
            )
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            self.refuse_without_rights()
            if executor.loader.applied_migrations and with_backup:
                self.back_up_first()
            self.stdout.write("Bringing the database up to date …")
            call_command("migrate", interactive=False, verbosity=0)
        # A migration can drop the triggers that keep entries append-only, without a word.
        call_command("guard")
        if not data_folder.epoch_of(Path(settings.COLDBUS_DATA)):
            data_folder.begin_epoch(Path(settings.COLDBUS_DATA))
        if static_files.collect_changed():
            self.stdout.write("Collected the static files.")
        if demo:
            self.load_demo()
        self.check()

    def refuse_without_rights(self) -> None:
        """Stop where the role that serves may not change tables: their owner has to."""
        if connection.vendor != "postgresql":
            return
        with connection.cursor() as cursor:
            cursor.execute("SELECT has_schema_privilege(current_user, current_schema(), 'CREATE')")
            (may,) = cursor.fetchone()
        if not may:
            raise CommandError(
                "The database has to be brought up to date by the owner of its tables: run once, "
                "with COLDBUS_DATABASE_URL naming the owner, manage.py up --no-serve, then "
                "manage.py database_role with the role that serves."
            )

    def load_demo(self) -> None:
        """Fill the database with the invented shop, unless somebody works in it already."""
        if queries.has_people():
            self.stdout.write("The database is not empty; the invented shop was not loaded.")
            return
        self.stdout.write("Loading the invented shop …")
        data_folder.mark_as_practice(Path(settings.COLDBUS_DATA))
        settings.COLDBUS_MOVABLE_CLOCK = True
        call_command("demo", "load")

    def back_up_first(self) -> None:
        """Make a backup, so that a migration can be taken back."""
        if not is_sqlite():
            # The tables are older than the models that would read them.
            self.stdout.write(str(BackupRefused("not_before_update")))
            return
        with database.reading(places().database) as live:
            if not database.holds_workshop(live):
                return
        try:
            made = make(places(), BEFORE_MIGRATION, clock.now())
        except BackupRefused as refused:
            raise CommandError(
                f"{refused}\nThe database was not brought up to date, because there would be no "
                "way back. Mend that, or say --without-backup."
            ) from None
        self.stdout.write(f"Backup made and checked: {made.path}")

    def announce(self, address: str, where: Listening, kept: keeping.Kept | None) -> None:
        """Tell the person where to go."""
        self.stdout.write(f"Coldbus is ready: {address}   (stop with Ctrl+C)")
        if kept is not None:
            self.stdout.write(f"Start page for tablets, plain http: {self.start_of(where)}")
        tablets = network.addresses_for_tablets(where, "http" if kept is None else "https")
        if tablets:
            self.tell_tablets(tablets, self.start_of(where), encrypted=kept is not None)
        self.stdout.flush()

    def start_of(self, where: Listening) -> str:
        """Give the address where a tablet begins."""
        known = network.addresses_for_tablets(where)
        return f"{known[0] if known else f'http://{where.knock}:{where.port}/'}start/"

    def tell_tablets(self, tablets: list[str], start: str, *, encrypted: bool) -> None:
        """Print every address for tablets, the first as a code to scan, and the caution."""
        self.stdout.write("Tablets reach it at:")
        for address in tablets:
            self.stdout.write(f"    {address}")
        if encrypted:
            self.stdout.write(f"A tablet that is new here begins at {start}")
        else:
            self.stdout.write(
                "CAUTION: this connection is not encrypted. Use it on the workshop's own network "
                "only, never over guest Wi-Fi."
            )
        if sys.stdout.isatty():
            code = segno.make(start if encrypted else tablets[0], micro=False)
            code.terminal(out=sys.stdout, compact=True)
