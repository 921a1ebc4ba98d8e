"""``manage.py restore FILE``: put a backup in place of the data, after looking and asking."""

import os
import sys
from argparse import ArgumentParser
from datetime import UTC
from getpass import getpass
from pathlib import Path
from typing import Any, Final

from django.core.management.base import BaseCommand, CommandError
from typing_extensions import override

from workshop import clock
from workshop.backups import keys, restoring, shelf
from workshop.backups.lost import Besides
from workshop.backups.places import Places, places
from workshop.backups.refusal import BackupRefused
from workshop.backups.restoring import Plan
from workshop.figures_text import moment
from workshop.serving.folder_lock import FolderInUse
from workshop.writing import folder_lock

SHOWN: Final = 12
ASKED: Final = ""
MOST_LETTERS: Final = 4096
KEY_LACKS: Final = frozenset({"no_key", "other_key"})


def _here() -> Places:
    here = places()
    if here.on_server:
        raise BackupRefused("restore_on_server")
    return here


class Command(BaseCommand):
    """Check, say what would be lost, ask, and swap."""

    help = "Puts a backup in place of the data. Stop the server first; the old data are kept."
    requires_system_checks = ()

    @override
    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the options."""
        parser.add_argument("file", type=Path, help="the backup")
        parser.add_argument(
            "--key",
            nargs="?",
            const=ASKED,
            metavar="LETTERS",
            help="ask for the key from the printed sheet, where this computer has none; "
            "--key - reads it from standard input. Letters typed here stay in the shell's history",
        )
        parser.add_argument("--key-file", type=Path, help="read that key from a file")
        parser.add_argument("--yes", action="store_true", help="do not ask")
        parser.add_argument(
            "--as-new-workshop-data",
            action="store_true",
            help="let another workshop's data take the place of these",
        )

    @override
    def handle(self, *args: Any, **options: Any) -> None:
        """Hold both locks from the first look to the swap."""
        path: Path = options["file"].expanduser().absolute()
        try:
            here = _here()
            folder_lock().take("a restore")
            with shelf.only_one(here):
                key = _key(_letters(options["key"], options["key_file"]))
                yes, foreign = options["yes"], options["as_new_workshop_data"]
                try:
                    self.restore(here, path, key, yes=yes, foreign=foreign)
                except BackupRefused as refused:
                    if key is not None or refused.code not in KEY_LACKS or not sys.stdin.isatty():
                        raise
                    self.stdout.write(str(refused))
                    self.restore(here, path, _key(_asked()), yes=yes, foreign=foreign)
        except (BackupRefused, FolderInUse) as refused:
            raise CommandError(str(refused)) from None
        except OSError as reason:
            raise CommandError(
                f"The restore stopped ({reason.strerror or reason}). The data are as they were."
            ) from None
        finally:
            folder_lock().release()

    def restore(
        self, here: Places, path: Path, key: bytes | None, *, yes: bool, foreign: bool
    ) -> None:
        """Look, ask, swap."""
        now = clock.now()
        self.stdout.write(f"Checking {path} …")
        with restoring.prepared(here, path, now, foreign=foreign, key=key) as plan:
            self.tell(plan)
            if not yes:
                self.ask()
            if os.name == "nt":
                # There a folder with an open file in it cannot be renamed.
                folder_lock().release()
            aside = restoring.put_in_place(plan, now)
        self.stdout.write(f"Restored. The data from before are kept in {aside}")
        if not restoring.take_backups_along(here, aside):
            self.stderr.write(f"The backups stayed in {aside}; move them into {here.data}.")
        if plan.manifest.keys_from_outside:
            names = ", ".join(plan.manifest.keys_from_outside)
            self.stderr.write(f"Set {names} as it was when the backup was made: PINs rest on it.")
        self.stdout.write("Start with: python3 manage.py up")

    def tell(self, plan: Plan) -> None:
        """Say what the backup holds and what would be lost."""
        told, made_at = plan.manifest, plan.manifest.made_at.astimezone()
        when = moment(made_at, made_at.tzinfo or UTC).replace("\u00a0", " ")
        self.stdout.write(
            f"It is whole: {told.shop_name or 'a workshop without a name'}, made {when}, "
            f"{told.jobs} jobs, {told.entries} entries."
        )
        signed = "signed by a key" if plan.signed_here else "not signed by any key"
        self.stdout.write(f"Its list of where every chain ends is {signed} known here.")
        if plan.present is None:
            self.stdout.write("The data folder holds no data yet; nothing is lost.")
        elif plan.present.contents is None:
            self.stdout.write("The present data cannot be read, so what is lost is not known.")
        elif not plan.losses and not plan.besides:
            self.stdout.write("Every entry of the present data is in it; no entry is lost.")
        else:
            self.tell_losses(plan)
            self.tell_besides(plan.besides)
            self.stdout.write("They stay readable in the folder that is set aside.")

    def tell_losses(self, plan: Plan) -> None:
        """List what was entered in jobs since the backup."""
        if not plan.losses:
            return
        count = sum(loss.entries for loss in plan.losses)
        self.stdout.write(f"LOST with it: {count} entries made since the backup:")
        for loss in plan.losses[:SHOWN]:
            words = "the whole job, " if loss.whole else ""
            self.stdout.write(f"    job {loss.job}: {words}{loss.entries} entries")
        if len(plan.losses) > SHOWN:
            self.stdout.write(f"    and {len(plan.losses) - SHOWN} further jobs")

    def tell_besides(self, lost: Besides) -> None:
        """List what was done beside jobs since; what was barred since one by one, all of it."""
        if lost.counts:
            self.stdout.write("LOST with it, beside entries:")
        for what, count in lost.counts:
            self.stdout.write(f"    {what}: {count}")
        if lost.barred:
            self.stdout.write("Barred or raised since, and not known any more afterwards:")
        for said in lost.barred:
            self.stdout.write(f"    {said}")

    def ask(self) -> None:
        """Let a person decide; without one at the keyboard, refuse."""
        if not sys.stdin.isatty():
            raise CommandError("Nobody can be asked here: look at the lines above and say --yes.")
        if input("Restore it? Type yes: ").strip().lower() != "yes":
            raise CommandError("Not restored. The data are as they were.")


def _letters(typed: str | None, file: Path | None) -> str | None:
    """Find the letters of the key where they were said to be."""
    if file is not None:
        if typed is not None:
            raise CommandError("Say --key or --key-file, not both.")
        with file.expanduser().open(encoding="utf-8", errors="replace") as opened:
            return opened.read(MOST_LETTERS)
    if typed == "-":
        return sys.stdin.readline(MOST_LETTERS)
    return _asked() if typed == ASKED else typed


def _asked() -> str:
    """Let a person type the key unseen; without one at the keyboard, refuse."""
    if not sys.stdin.isatty():
        raise CommandError("Nobody can be asked here: say --key-file FILE, or --key - and send it.")
    return getpass("The key from the sheet: ")


def _key(typed: str | None) -> bytes | None:
    try:
        return None if typed is None else keys.read_words(typed)
    except ValueError as reason:
        raise CommandError(f"The key: {reason}. Compare it with the sheet.") from None
