"""Fills a shop with years of closed jobs: real ones of the invented workshop, under new names.

The canonical bytes are the played job's own with other identifiers, days and hashes in them, so
that nothing of how an entry is written is repeated here; links, signatures and digests are made
anew, and ``verify`` finds nothing. Run as a program in the environment of the shop:
``python -m tests.bench.full_shop CLOSED OPEN``.
"""

import json
import os
import re
import subprocess
import sys
import uuid
from collections.abc import Callable, Iterable, Iterator
from copy import copy
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import django

if __name__ == "__main__":
    django.setup()

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Model
from django.db.models.base import ModelState

from jobs.core.seal import FIRST_PREVIOUS, entry_words, head_words, link_hash
from jobs.models import (
    Attachment,
    ChainHead,
    DeskEvent,
    Disposal,
    Entry,
    Job,
    PersonalDatum,
    QuarantineWatch,
    Verdict,
)
from jobs.queries.disposal import disposal_digest
from jobs.queries.verify import verify_job
from jobs.queries.watch_digests import check_digest, ending_digest
from jobs.triggers import create_triggers
from tests.house.sources import ROOT
from workshop import signing_keys

PLAYED = {"closed": "Q000001", "open": "Q000008"}
"""Of the invented workshop: a whole job of 246 entries, and one amid its module swap, of 209."""
YEARS_DAYS = 1800
"""Over how many days the closed jobs are spread [d]."""
AT_ONCE = 200
"""Jobs written in one transaction."""
SAMPLE = 5
_NAMED = re.compile(r"([0-9a-f]{64}|[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}|\d{4}-\d\d-\d\d)")


@dataclass
class Names:
    """What stands for what in a copy: identifiers and hashes by map, days by a shift."""

    shift: timedelta
    known: dict[str, str] = field(default_factory=dict)

    def _one(self, word: str) -> str:
        if word not in self.known:
            is_day = len(word) == len("2026-03-02")
            day = (date.fromisoformat(word) + self.shift).isoformat() if is_day else word
            self.known[word] = day
        return self.known[word]

    def text(self, text: str) -> str:
        """Put a text under the copy's names."""
        return self.joined(_NAMED.split(text))

    def joined(self, pieces: list[str]) -> str:
        """Put a text that was split at its names under the copy's."""
        made = pieces[:]
        made[1::2] = [self.known.get(word) or self._one(word) for word in pieces[1::2]]
        return "".join(made)

    def json(self, value: Any) -> Any:
        """Put a JSON value under the copy's names."""
        if isinstance(value, str):
            return self.text(value)
        if isinstance(value, list):
            return [self.json(each) for each in value]
        if isinstance(value, dict):
            return {self.text(name): self.json(each) for name, each in value.items()}
        return value

    def identifier(self, given: uuid.UUID) -> uuid.UUID:
        """Give the identifier that stands for one; itself where none does."""
        return uuid.UUID(self.known.get(str(given), str(given)))

    def anew(self, given: uuid.UUID) -> None:
        """Let a new identifier stand for one."""
        self.known[str(given)] = str(uuid.uuid4())

    def moment(self, given: datetime | None) -> datetime | None:
        """Give a time on the copy's day."""
        return None if given is None else given + self.shift


def _split(value: Any) -> list[str] | None:
    return None if value is None else _NAMED.split(json.dumps(value))


@dataclass(frozen=True)
class Long:
    """A row of a long table, split once: what differs between copies is put in by name."""

    row: Any
    value: list[str] | None
    written: list[str] = field(default_factory=list)
    fixed: list[Any] = field(default_factory=list)
    places: dict[str, int] = field(default_factory=dict)
    identifiers: dict[int, str] = field(default_factory=dict)
    moments: dict[int, datetime] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Sort the columns by what a copy changes of them."""
        for place, column in enumerate(type(self.row)._meta.concrete_fields):
            given = self.row.__dict__[column.attname]
            self.places[column.attname] = place
            self.fixed.append(given)
            if isinstance(given, uuid.UUID):
                self.identifiers[place] = str(given)
            elif isinstance(given, datetime):
                self.moments[place] = given


@dataclass(frozen=True)
class Template:
    """A played job with all that belongs to it."""

    job: Job
    entries: list[Long]
    verdicts: list[Long]
    others: list[Model]
    watches: list[QuarantineWatch]


def template(number: str) -> Template:
    """Read a played job."""
    job = Job.objects.select_related("customer", "vehicle", "chainhead").get(number=number)
    others: list[Model] = []
    for model in (PersonalDatum, Attachment, DeskEvent):
        others += model._default_manager.filter(job=job)
    return Template(
        job,
        [
            Long(row, _split(row.value), _NAMED.split(bytes(row.canonical).decode()))
            for row in Entry.objects.filter(job=job).order_by("seq")
        ],
        [Long(row, _split(row.answer)) for row in Verdict.objects.filter(job=job)],
        others,
        list(QuarantineWatch.objects.filter(job=job).prefetch_related("checks")),
    )


def _column(names: Names, value: Any, kind: str) -> Any:
    """Put one column under the copy's names, by its kind."""
    if isinstance(value, uuid.UUID):
        return names.identifier(value)
    if isinstance(value, datetime | date):
        return value + names.shift
    if kind == "JSONField":
        return names.json(value)
    return names.text(value) if isinstance(value, str) else value


def renamed(row: Any, names: Names, **other: Any) -> Any:
    """Copy a row, every column of it under the copy's names."""
    made = copy(row)
    made._state = ModelState()  # noqa: SLF001 - a row that was not saved yet
    for column in row._meta.concrete_fields:
        value = other.get(column.attname, row.__dict__[column.attname])
        if column.attname not in other:
            value = _column(names, value, column.get_internal_type())
        made.__dict__[column.attname] = value
    return made


def _moment(value: datetime) -> Any:
    return connection.ops.adapt_datetimefield_value(value)


def _line(long: Long, names: Names, **other: Any) -> list[Any]:
    """Give a row as the database takes it, column by column."""
    line = long.fixed[:]
    for place, given in long.identifiers.items():
        line[place] = names.known.get(given, given)
        if connection.vendor == "sqlite":
            line[place] = line[place].replace("-", "")
    for place, moment in long.moments.items():
        line[place] = _moment(moment + names.shift)
    if long.value is not None:
        line[long.places["value" if "value" in long.places else "answer"]] = names.joined(
            long.value
        )
    for name, given in other.items():
        line[long.places[name]] = given
    return line


def chained(entries: Iterable[Long], names: Names) -> Iterator[list[Any]]:
    """Copy entries as links of a chain of their own, signed."""
    previous, key = FIRST_PREVIOUS, signing_keys._here()  # noqa: SLF001 - read once, not for each of millions
    for each in entries:
        written = names.joined(each.written).encode()
        link = link_hash(previous, written)
        names.known[each.row.hash] = link
        yield _line(
            each,
            names,
            qualifier=names.text(each.row.qualifier),
            canonical=written,
            previous=previous,
            hash=link,
            signature=key.sign(entry_words(link)),
        )
        previous = link


def _watches(whole: Template, names: Names) -> Iterator[Model]:
    """Copy the watches, each ended after its checks, and what became of the modules."""
    for watch in whole.watches:
        checks, previous = list(watch.checks.all()), FIRST_PREVIOUS
        made = renamed(watch, names)
        last = checks[-1].at if checks else watch.started_at
        if whole.job.closed_at is not None:
            made.ended_at, made.ended_by = last + names.shift, watch.started_by
            made.ended_how, made.ended_to = "kept", "Shelf 4"
        rows = []
        for check in checks:
            one = renamed(check, names)
            one.digest = previous = check_digest(one, previous)
            rows.append(one)
        if made.ended_at is not None:
            made.ended_digest = ending_digest(made, previous)
        yield made
        yield from rows
        if made.ended_at is not None:
            yield _disposed(made)


def _disposed(watch: QuarantineWatch) -> Disposal:
    row = Disposal(key=uuid.uuid4(), subject=watch.id, serial=watch.serial, watch=watch, seq=1)
    row.at, row.person = watch.ended_at or watch.started_at, watch.started_by
    row.values = {"class": "critical", "to": "Recycler", "kg": "42"}
    row.digest = disposal_digest(row, FIRST_PREVIOUS)
    return row


def _new_names(whole: Template, shift: timedelta) -> Names:
    names, job = Names(shift), whole.job
    names.anew(job.id)
    for each in (job.customer, job.vehicle, *whole.watches):
        if each is not None:
            names.anew(each.pk)
    for long in (*whole.entries, *whole.verdicts):
        names.anew(long.row.key)
    for check in (check for watch in whole.watches for check in watch.checks.all()):
        names.anew(check.key)
    for other in whole.others:
        names.anew(other.key if isinstance(other, DeskEvent) else other.pk)
    return names


@dataclass(frozen=True)
class Lines:
    """Rows of a long table, as the database takes them."""

    model: type[Model]
    rows: list[list[Any]]

    def write(self) -> None:
        """Write them the fast way of the database."""
        meta = self.model._meta
        names = ", ".join(f'"{column.column}"' for column in meta.concrete_fields)
        with connection.cursor() as cursor:
            if connection.vendor == "sqlite":
                marks = ", ".join(["?"] * len(meta.concrete_fields))
                insert = f'INSERT INTO "{meta.db_table}" ({names}) VALUES ({marks})'  # noqa: S608
                cursor.connection.executemany(insert, self.rows)
                return
            with cursor.copy(f'COPY "{meta.db_table}" ({names}) FROM STDIN') as door:
                for row in self.rows:
                    door.write_row(row)


def copied(whole: Template, number: str, shift: timedelta) -> Iterator[Model | Lines]:
    """Give every row of a copy of a played job, each after those it points at."""
    names, job = _new_names(whole, shift), whole.job
    if job.customer is not None:
        yield renamed(job.customer, names, name=f"{job.customer.name} {number}")
    if job.vehicle is not None:
        yield renamed(job.vehicle, names, plate=number, vin="")
    made = renamed(job, names, number=number)
    yield made
    entries = list(chained(whole.entries, names))
    yield Lines(Entry, entries)
    head = ChainHead(job_id=made.id, count=len(entries), hash=names.known[job.chainhead.hash])
    signed = signing_keys.sign(head_words(str(made.id), head.count, head.hash, head.unsigned))
    head.key_id, head.signature = signed.key_id, signed.signature
    yield head
    answers = [_line(each, names) for each in whole.verdicts]
    yield Lines(Verdict, answers)
    for other in whole.others:
        numbered = {"id": None} if isinstance(other, DeskEvent) else {}
        yield renamed(other, names, **numbered)
    yield from _watches(whole, names)


def put(rows: Iterable[Model | Lines]) -> None:
    kinds: dict[type[Model], list[Model]] = {}
    long = []
    for row in rows:
        if isinstance(row, Lines):
            long.append(row)
        else:
            kinds.setdefault(type(row), []).append(row)
    for model, found in kinds.items():
        model._default_manager.bulk_create(found, batch_size=500)
    for lines in long:
        lines.write()


def fill(kind: str, letter: str, wanted: int, shift: Callable[[int], timedelta]) -> None:
    """Copy a played job until there are as many copies as wanted."""
    whole = template(PLAYED[kind])
    there = Job.objects.filter(number__startswith=letter).count()
    for begin in range(there, wanted, AT_ONCE):
        with transaction.atomic():
            put(
                row
                for at in range(begin, min(begin + AT_ONCE, wanted))
                for row in copied(whole, f"{letter}{at:06}", shift(at))
            )


def _in_haste() -> None:
    """Write without a net: what is filled is thrown away where it breaks off."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            for setting in ("journal_mode=OFF", "synchronous=OFF", "cache_size=-1000000"):
                cursor.execute(f"PRAGMA {setting}")
            cursor.execute("DROP TRIGGER IF EXISTS jobs_entry_no_replace")


def _settled() -> None:
    """Leave the database as its server's own upkeep would."""
    create_triggers()
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA journal_mode=WAL")
        cursor.execute("ANALYZE" if connection.vendor == "postgresql" else "PRAGMA optimize")


def main(closed: int, still_open: int) -> None:
    """Fill the shop of this environment and verify a sample."""
    if not str(settings.COLDBUS_DATA):
        raise SystemExit("there is no data folder")
    _in_haste()
    fill("open", "V", still_open, lambda _: timedelta())
    # The newest first, so that a shop filled further grows backwards in time.
    fill("closed", "W", closed, lambda at: -timedelta(days=2 + at * YEARS_DAYS // 10_000))
    _settled()
    said = [
        fault
        for number in Job.objects.filter(number__regex="^[VW]").order_by("?")[:SAMPLE]
        for fault in verify_job(number.id)
    ]
    sys.stdout.write(f"{Entry.objects.count()} entries, faults: {said}\n")
    if said:
        raise SystemExit(1)


def filled(folder: Path, closed: int, still_open: int) -> None:
    """Fill the SQLite shop of a data folder in a process of its own."""
    inherited = {name: text for name, text in os.environ.items() if "COLDBUS" not in name}
    own = {"COLDBUS_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "workshop.settings"}
    command = [sys.executable, "-m", "tests.bench.full_shop", str(closed), str(still_open)]
    subprocess.run(command, env={**inherited, **own}, cwd=ROOT, check=True)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
