"""Reading disposals: what awaits one, what was recorded, and whether it is as it was written."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from django.db.models import Exists, OuterRef

from jobs.core.seal import FIRST_PREVIOUS, canonical, link_hash
from jobs.models import Disposal, QuarantineWatch
from jobs.steps.module_swap.items import DANGER, DRY
from packs import queries as packs
from packs.errors import Refused
from packs.spares import FITTED, IN_STOCK, RESERVED, SCRAPPED, SpareInfo
from workshop import queries as shop

__all__ = [
    "OLD_DAYS",
    "Awaiting",
    "Recorded",
    "Subject",
    "awaiting",
    "disposal_digest",
    "disposal_faults",
    "recorded_between",
    "records_of",
    "subject_of",
]  # fmt: skip

OLD_DAYS: Final = 30
"""Days after which a module that awaits disposal stands on Today: shop default."""
_IN_USE: Final = frozenset({IN_STOCK, RESERVED, FITTED})


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """A removed module or a spare that is disposed of.

    Attributes
    ----------
    id : str
        Identifier of its watch; of the spare where it never was watched.
    watch, spare : QuarantineWatch | None, SpareInfo | None
        At least one of the two.
    """

    id: str
    watch: QuarantineWatch | None
    spare: SpareInfo | None

    @property
    def label(self) -> str:
        """What is written on it."""
        if self.watch is not None:
            return self.watch.serial or self.watch.module
        return "" if self.spare is None else self.spare.serial

    @property
    def job_id(self) -> str:
        """The job it came from; empty for a spare from elsewhere."""
        return "" if self.watch is None else str(self.watch.job_id)

    @property
    def job_number(self) -> str:
        """Number of that job."""
        return "" if self.watch is None else self.watch.job.number

    @property
    def watched(self) -> bool:
        """Whether its watch still runs."""
        return self.watch is not None and self.watch.ended_at is None

    @property
    def unsound(self) -> bool:
        """Whether its job said that it is not dry and whole."""
        row = self.watch
        if row is None:
            return False
        return row.quarantine_class != DRY or row.condition not in {"", "sound"}

    @property
    def dangerous(self) -> bool:
        """Whether its job said that it shows danger signs."""
        return self.watch is not None and self.watch.quarantine_class == DANGER


@dataclass(frozen=True, slots=True, kw_only=True)
class Awaiting:
    """Something that awaits its disposal, since when, and where it stands."""

    subject: Subject
    since: datetime
    place: str
    why: str
    days: int

    @property
    def old(self) -> bool:
        """Whether it stands longer than the shop means it to."""
        return self.days > OLD_DAYS


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """One record of a disposal; `corrected` where a later one stands for it."""

    key: str
    subject: str
    serial: str
    seq: int
    at: datetime
    person: str
    values: Mapping[str, Any]
    corrected: bool = False


def _spare_of(serial: str) -> SpareInfo | None:
    return packs.spare_with_serial(serial) if serial else None


def subject_of(given: str) -> Subject | None:
    """Find what an identifier means: a watch, or a spare, which leads to its watch if it has one.

    Parameters
    ----------
    given : str
        Identifier of a watch or of a spare.

    Returns
    -------
    Subject | None
        None where there is neither.
    """
    wanted = shop.uuid_of(given)
    rows = QuarantineWatch.objects.select_related("job")
    row = rows.filter(pk=wanted).first()
    if row is not None:
        return Subject(id=str(row.id), watch=row, spare=_spare_of(row.serial))
    try:
        spare = packs.spare(wanted)
    except Refused:
        return None
    row = rows.filter(serial=spare.serial).order_by("-started_at").first()
    return Subject(id=str(spare.id if row is None else row.id), watch=row, spare=spare)


def _days(since: datetime, now: datetime) -> int:
    return (now - since) // timedelta(days=1)


def _watched_out(now: datetime) -> Iterator[Awaiting]:
    """Give removed modules whose watch ended here and that did not become a spare in use."""
    done = Disposal.objects.filter(subject=OuterRef("pk"))
    ended = QuarantineWatch.objects.filter(~Exists(done), ended_at__isnull=False)
    rows = list(ended.exclude(ended_how="returned").select_related("job"))
    spares = packs.spares_with_serials({row.serial for row in rows})
    for row in rows:
        spare = spares.get(row.serial)
        if spare is not None and spare.state in _IN_USE:
            continue
        subject = Subject(id=str(row.id), watch=row, spare=spare)
        place = row.ended_to if row.ended_how == "kept" else row.place
        days = _days(row.started_at, now)
        yield Awaiting(
            subject=subject, since=row.started_at, place=place, why=row.ended_how, days=days
        )


def _scrapped(now: datetime) -> Iterator[Awaiting]:
    """Give scrapped spares that no watch names and no record either."""
    spares = packs.spares(packs.SpareFilter(state=SCRAPPED))
    ids, serials = [spare.id for spare in spares], [spare.serial for spare in spares]
    recorded = Disposal.objects.filter(subject__in=ids).values_list("subject", flat=True)
    done = {str(each) for each in recorded}
    watched = QuarantineWatch.objects.filter(serial__in=serials)
    named = set(watched.values_list("serial", flat=True))
    for spare in spares:
        if str(spare.id) in done or spare.serial in named:
            continue
        events = packs.spare_events(spare.id)
        since = next((e.at for e in reversed(events) if e.state == SCRAPPED), now)
        subject = Subject(id=str(spare.id), watch=None, spare=spare)
        days = _days(since, now)
        yield Awaiting(subject=subject, since=since, place=spare.place, why="scrapped", days=days)


def awaiting(now: datetime) -> tuple[Awaiting, ...]:
    """Give what stands here without a record of where it went, the oldest first.

    Parameters
    ----------
    now : datetime
        The server's time.

    Returns
    -------
    tuple[Awaiting, ...]
        A module whose watch still runs is not among them: it stands in the list of watches.
    """
    found = [*_watched_out(now), *_scrapped(now)]
    return tuple(sorted(found, key=lambda each: each.since))


def _recorded(rows: list[Disposal]) -> tuple[Recorded, ...]:
    last = {row.subject: row.seq for row in sorted(rows, key=lambda each: each.seq)}
    return tuple(
        Recorded(
            key=str(row.key),
            subject=str(row.subject),
            serial=row.serial,
            seq=row.seq,
            at=row.at,
            person=str(row.person),
            values=row.values,
            corrected=row.seq < last[row.subject],
        )
        for row in rows
    )


def records_of(subject: str) -> tuple[Recorded, ...]:
    """Give the records of one module, oldest first; the last one stands."""
    rows = Disposal.objects.filter(subject=shop.uuid_of(subject)).order_by("seq")
    return _recorded(list(rows))


def recorded_between(begin: datetime, end: datetime) -> tuple[Recorded, ...]:
    """Give the standing records of the modules first recorded in a span of time."""
    first = Disposal.objects.filter(seq=1, at__gte=begin, at__lt=end).values("subject")
    rows = Disposal.objects.filter(subject__in=first).order_by("at", "seq")
    return tuple(each for each in _recorded(list(rows)) if not each.corrected)


def disposal_digest(row: Disposal, previous: str) -> str:
    """Give the digest of a record: of what it says and of the one before it."""
    content = {
        "key": str(row.key),
        "subject": str(row.subject),
        "serial": row.serial,
        "watch": None if row.watch_id is None else str(row.watch_id),
        "seq": row.seq,
        "at": row.at.astimezone(UTC).isoformat(timespec="microseconds"),
        "person": str(row.person),
        "values": row.values,
    }
    return link_hash(previous, canonical(content))


def disposal_faults() -> Iterator[str]:
    """Say which records of a disposal were changed, or removed before another one."""
    previous, place, subject = FIRST_PREVIOUS, 0, None
    for row in Disposal.objects.order_by("subject", "seq"):
        if row.subject != subject:
            previous, place, subject = FIRST_PREVIOUS, 0, row.subject
        place += 1
        if row.seq != place:
            yield f"a record of the disposal of {row.serial} is missing before {row.seq}"
            place = row.seq
        if disposal_digest(row, previous) != row.digest:
            yield f"record {row.seq} of the disposal of {row.serial} was changed, or the one before"
        previous = row.digest
