"""``manage.py doctor``: say what state this computer and the shop's data are in, change nothing."""

import platform
import shutil
import sys
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from typing_extensions import override

from workshop import clock
from workshop.backups import backup_state
from workshop.backups.state import LOW_SPACE_BYTES
from workshop.figures_text import moment
from workshop.serving import data_folder, network, sqlite, write_ahead
from workshop.serving.authority import keeping

Finding = tuple[bool, str]
SOON_DAYS = 30
"""Days before its end from which the server's certificate is told of [d]."""


class Command(BaseCommand):
    """Print one line a finding; exit 1 where one of them needs mending."""

    help = "Says which versions are in use and whether anything endangers the data."
    requires_system_checks = ()

    @override
    def handle(self, *args: Any, **options: Any) -> None:
        """Look everywhere before judging."""
        place = Path(settings.COLDBUS_DATA)
        findings = [*program(), *folder(place), *certificate(place, clock.now())]
        findings += [*moved(place, network.own_addresses()), *backups(clock.now()), *listening()]
        # Looking must not make the file that is missing.
        if connection.vendor != "sqlite" or Path(connection.settings_dict["NAME"]).exists():
            findings += database(place)
        for good, text in findings:
            self.stdout.write(f"{'ok  ' if good else 'MEND'}  {text}")
        if not all(good for good, _text in findings):
            raise SystemExit(1)


def program() -> Iterator[Finding]:
    """Look at the interpreter and at the library under the database."""
    yield True, f"Python {platform.python_version()} ({sys.executable})"
    if connection.vendor != "sqlite":
        yield True, f"database: {connection.vendor}"
        return
    version = sqlite.version_in_use()
    named = ".".join(str(part) for part in version)
    if sqlite.is_fixed(version):
        yield True, f"SQLite {named}"
    else:
        yield False, f"SQLite {named} has a fault that can damage the database; needs 3.51.3"


def folder(place: Path) -> Iterator[Finding]:
    """Look at the data folder: where it is, who may read it, how much room is left."""
    if not place.is_dir():
        yield False, f"data folder {place} does not exist; start with: python3 manage.py up"
        return
    objection = data_folder.objection_to(place, data_folder.mounts_here())
    yield objection is None, objection or f"data folder {place} is on this computer's own disk"
    open_to_others = place.stat().st_mode & 0o077
    readers = "others too" if open_to_others else "its owner only"
    yield not open_to_others, f"data folder can be read by {readers}"
    free = shutil.disk_usage(place).free
    yield free >= LOW_SPACE_BYTES, f"{free // 1024**2} MB free on its disk"
    if data_folder.is_practice(place):
        yield True, "the data are invented (practice): never book a real job here"


def certificate(place: Path, now: datetime) -> Iterator[Finding]:
    """Look at the certificate that tablets trust: whose names, until when, where its key is."""
    found = keeping.told(place)
    if found is None:
        return
    key = "here" if found.key_here else "taken off"
    yield True, f"certificate authority {found.fingerprint[:23]}…, its key {key}"
    if found.server_until is None:
        return
    left = (found.server_until - now).days
    text = f"server's certificate: {left} days left, for {', '.join(sorted(found.names))}"
    yield left >= SOON_DAYS, text if left >= SOON_DAYS else f"{text}; start the server anew"


def moved(place: Path, own: Sequence[str]) -> Iterator[Finding]:
    """Look whether this computer still has the addresses by which tablets know it."""
    found = keeping.told(place)
    named = () if found is None else sorted(found.names)
    gone = [each for each in named if network.is_network_address(each) and each not in own]
    if gone:
        text = (
            f"this computer no longer has the address {', '.join(gone)}, by which tablets know "
            "it: give it that address again (DHCP reservation); or save on each tablet what "
            "waits there (page This tablet), then start the server anew"
        )
        yield False, text


def backups(now: datetime) -> Iterator[Finding]:
    """Look at the backups: the newest, where they lie, whether one fault could take both."""
    state = backup_state(now)
    if state.code == "none" and state.is_new:
        yield True, "no backup yet, the data are new: the first is made while it serves"
    elif state.newest_at is None:
        yield False, "there is no good backup yet; make one: python3 manage.py backup"
    else:
        made_at = state.newest_at.astimezone()
        when = moment(made_at, made_at.tzinfo or UTC).replace("\u00a0", " ")
        yield state.code != "overdue", f"newest good backup: {when}, checked when it was made"
    if state.code == "failed":
        yield False, f"the last backup failed: {state.why}"
    yield True, f"backups lie in {state.where}"
    if state.same_disk:
        hint = "set COLDBUS_BACKUPS to a second disk, or take copies: manage.py backup --to FOLDER"
        yield True, f"HINT: that is the same disk as the data; {hint}"


def listening() -> Iterator[Finding]:
    """Say how tablets would reach this computer."""
    own = [each for each in network.own_addresses() if each != network.LOOPBACK]
    private = [each for each in own if network.is_private(each)]
    if private:
        yield True, f"for tablets, on the workshop's own network only: up --listen {private[0]}"
    else:
        yield True, "this computer has no address in a private network: it serves itself only"
    public = [each for each in own if not network.is_private(each)]
    if public:
        yield True, f"HINT: {public[0]} is public; Coldbus does not listen there"


def log(place: Path) -> Iterator[Finding]:
    """Look at the log beside the database, which opening it would take in; silent where whole."""
    if connection.vendor != "sqlite":
        return
    try:
        fault = write_ahead.fault_at_rest(place)
    except OSError as reason:
        yield False, f"data folder cannot be used: {reason}"
        return
    if fault is not None:
        yield False, fault.sentence


def database(place: Path) -> Iterator[Finding]:
    """Look at the database: is it whole, is it up to date."""
    unusable = list(log(place))
    if unusable:
        yield from unusable
        return
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                cursor.execute("PRAGMA quick_check(1)")
                (said,) = cursor.fetchone()
            yield said == "ok", f"database file: {said}"
    except DatabaseError as reason:
        yield False, f"database cannot be read: {reason}"
        return
    if waiting:
        yield False, f"{len(waiting)} migrations wait; run: python3 manage.py up"
    else:
        yield True, "database is up to date"
