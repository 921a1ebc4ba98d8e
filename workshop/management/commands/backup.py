"""``manage.py backup``: make a backup now and check it; works while the server runs."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from typing_extensions import override

from workshop import clock
from workshop.backups import drill, keys, state
from workshop.backups.making import MB, Made, make
from workshop.backups.manifest import BY_HAND
from workshop.backups.places import Places, places
from workshop.backups.refusal import BackupRefused


class Command(BaseCommand):
    """Make a backup as a reader, and say what is in it."""

    help = "Makes a backup of database, pictures and keys, and checks it. Works beside the server."
    requires_system_checks = ()

    @override
    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the options."""
        parser.add_argument(
            "--drill",
            action="store_true",
            help="restore the newest backup for trial, verify it there, and remove it again",
        )
        parser.add_argument(
            "--key",
            action="store_true",
            help="print the key of the backups: write it on paper and lock it away elsewhere",
        )
        parser.add_argument(
            "--to", type=Path, metavar="PATH", help="a folder, or a new file, on another disk"
        )

    @override
    def handle(self, *args: Any, **options: Any) -> None:
        """Make it; anything but a checked backup is an error."""
        to: Path | None = options["to"]
        try:
            here = places()
            if options["key"]:
                self.stdout.write(keys.words_of(keys.key_of(here.data)))
                return
            if options["drill"]:
                self.practise(here)
                return
            made = make(here, BY_HAND, clock.now(), to.expanduser().absolute() if to else None)
        except BackupRefused as refused:
            raise CommandError(str(refused)) from None
        self.tell(here, made)

    def practise(self, here: Places) -> None:
        """Say what came of a drill; exit 1 where the backup cannot be relied on."""
        done = drill.practise(here, clock.now())
        if done.why:
            raise CommandError(f"{done.name} cannot be relied on: {done.why}")
        self.stdout.write(f"{done.name} was restored for trial; every chain in it verifies.")

    def tell(self, here: Places, made: Made) -> None:
        """Say what was made and what to think of."""
        told, size_mb = made.manifest, made.path.stat().st_size / MB
        self.stdout.write(f"Backup made and checked: {made.path} ({size_mb:.1f} MB)")
        self.stdout.write(f"It holds {told.jobs} jobs and {told.entries} entries.")
        if told.missing_attachments:
            self.stderr.write(
                f"CAUTION: {len(told.missing_attachments)} pictures or certificates that the "
                "record names are not in the data folder."
            )
        if told.keys_from_outside:
            names = ", ".join(told.keys_from_outside)
            self.stderr.write(f"CAUTION: {names} came from outside and are not in the file.")
        if state.is_same_disk(here.data, made.path):
            self.stderr.write(
                "CAUTION: it lies on the same disk as the data. Take a copy to a second disk or "
                "stick: --to FOLDER, or set COLDBUS_BACKUPS."
            )
        self.stdout.write(
            "It is encrypted. Without the key nobody restores it on another computer: print it "
            "once (backup --key), or the sheet on the page Backups, and keep it apart."
        )
