"""Reading the watches on removed modules: what runs, what is due, what each check came to.

What a watch shows of its module was copied by the door from the job's record; a check keeps its
own word and reasons as judged when it was entered. Nothing here asks a job's entries.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.db.models import Q, QuerySet

from jobs.core.reason import Blocker
from jobs.core.watch import (
    Check,
    Point,
    Schedule,
    Sign,
    Word,
    in_force,
    release_blockers,
    schedule,
    watch_length,
)
from jobs.core.watch_check import reasons_from
from jobs.models import QuarantineCheck, QuarantineWatch
from jobs.steps.module_swap.items import DANGER, DRY
from workshop import queries as shop

__all__ = [
    "DueCheck",
    "WatchInfo",
    "checks_of",
    "due_checks",
    "known_signs",
    "watch",
    "watches",
    "watches_of",
]

ENDED_SHOWN: Final = 100
"""Ended watches listed, newest first; older ones are found by searching."""
SEARCH_WORDS: Final = 6
_CAME_WITH: Final[Mapping[str, frozenset[Sign]]] = {
    "wet": frozenset({Sign.FLUID}),
    "leaking": frozenset({Sign.FLUID}),
    "swollen": frozenset({Sign.SWELLING}),
}
"""Signs that are not new at a module of that condition."""
_WORST_FIRST: Final = (Word.EVACUATE, Word.ESCALATE, Word.CALM)


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchInfo:
    """A watch as it stands.

    Attributes
    ----------
    struck : bool
        Whether the tick that started it was struck or voided in its job; it still has to be ended.
    word : Word
        What the last check came to; evacuate also where the job's class says danger.
    checks : tuple[Check, ...]
        All checks, oldest first, corrected ones among them.
    wrong : frozenset[str]
        Keys of the checks whose figures a later one corrects.
    schedule : Schedule
        Made, missed and next checks; of an ended watch as of its end.
    release : tuple[Blocker, ...]
        What stands against releasing the module now.
    names : Mapping[str, str]
        Display names of everybody in it.
    ended_how : str
        "kept", "disposal", "returned" or "handed_over"; empty while it runs.
    """

    id: str
    job_id: str
    job_number: str
    module: str
    serial: str
    place: str
    quarantine_class: str
    condition: str
    started_at: datetime
    started_by: str
    struck: bool
    word: Word
    checks: tuple[Check, ...]
    wrong: frozenset[str]
    schedule: Schedule
    release: tuple[Blocker, ...]
    names: Mapping[str, str]
    ended_at: datetime | None
    ended_by: str
    ended_how: str
    ended_to: str
    ended_note: str

    @property
    def last(self) -> Check | None:
        """The last check whose figures stand."""
        return next(reversed(in_force(self.checks)), None)

    @property
    def label(self) -> str:
        """What is written on the module: its serial, or its place in the pack."""
        return self.serial or self.module

    @property
    def urgency(self) -> tuple[int, int, datetime]:
        """What puts the most urgent first: word, then overdue, due, ahead, then the time."""
        state = ("overdue", "due", "ahead").index(self.schedule.next.state)
        return _WORST_FIRST.index(self.word), state, self.schedule.next.due_at


@dataclass(frozen=True, slots=True, kw_only=True)
class DueCheck:
    """A check that is due or overdue, or any next check of a module that is not calm.

    Attributes
    ----------
    due_at : datetime
        When it is due; lies ahead only where the module is not calm.
    overdue, due : bool
        Whether its time is over, or has come.
    missed : int
        Checks of this module that nobody made.
    verdict : str
        "calm", "escalate" or "evacuate": what the last check came to.
    """

    watch_id: str
    job_id: str
    job_number: str
    module: str
    serial: str
    place: str
    due_at: datetime
    overdue: bool
    due: bool
    missed: int
    verdict: str


def _check(row: QuarantineCheck) -> Check:
    values = row.values
    ambient = values["ambient_c"]
    return Check(
        key=str(row.key),
        at=row.at,
        person=str(row.person),
        ambient_c=None if ambient is None else float(ambient),
        points=tuple(Point(each["name"], float(each["point_c"])) for each in values["points"]),
        signs=frozenset(Sign(each) for each in values["signs"]),
        note=values["note"],
        word=Word(values["word"]),
        reasons=reasons_from(values["reasons"]),
        corrects=values["corrects"],
    )


def checks_of(row: QuarantineWatch) -> tuple[Check, ...]:
    """Give the checks of a row, oldest first."""
    return tuple(_check(each) for each in row.checks.all())


def known_signs(row: QuarantineWatch) -> frozenset[Sign]:
    """Give the swelling or fluid that the module came out with."""
    return _CAME_WITH.get(row.condition, frozenset())


def _is_wet(row: QuarantineWatch, checks: Iterable[Check]) -> bool:
    """Tell whether the longer watch holds: not known to be dry and sound, or no longer so."""
    sound = row.quarantine_class == DRY and row.condition in {"", "sound"}
    seen = frozenset({Sign.FLUID, Sign.SWELLING})
    return not sound or any(check.signs & seen for check in in_force(tuple(checks)))


def _info(row: QuarantineWatch, now: datetime, names: Mapping[str, str]) -> WatchInfo:
    checks, danger = checks_of(row), row.quarantine_class == DANGER
    length = watch_length(wet=_is_wet(row, checks))
    planned = schedule(row.started_at, checks, length=length, now=row.ended_at or now)
    last = next(reversed(in_force(checks)), None)
    return WatchInfo(
        id=str(row.id),
        job_id=str(row.job_id),
        job_number=row.job.number,
        module=row.module,
        serial=row.serial,
        place=row.place,
        quarantine_class=row.quarantine_class,
        condition=row.condition,
        started_at=row.started_at,
        started_by=str(row.started_by),
        struck=row.struck,
        word=Word.EVACUATE if danger else Word.CALM if last is None else last.word,
        checks=checks,
        wrong=frozenset(check.corrects for check in checks if check.corrects),
        schedule=planned,
        release=release_blockers(planned, checks, danger=danger, now=now),
        names=names,
        ended_at=row.ended_at,
        ended_by="" if row.ended_by is None else str(row.ended_by),
        ended_how=row.ended_how,
        ended_to=row.ended_to,
        ended_note=row.ended_note,
    )


def _rows() -> QuerySet[QuarantineWatch]:
    return QuarantineWatch.objects.select_related("job").prefetch_related("checks")


def _searched(rows: QuerySet[QuarantineWatch], search: str) -> QuerySet[QuarantineWatch]:
    for word in search.split()[:SEARCH_WORDS]:
        rows = rows.filter(
            Q(serial__icontains=word)
            | Q(module__icontains=word)
            | Q(place__icontains=word)
            | Q(job__number__icontains=word)
            | Q(ended_to__icontains=word)
        )
    return rows


def watches(now: datetime, *, ended: bool = False, search: str = "") -> tuple[WatchInfo, ...]:
    """Give the watches that run, most urgent first, or those that ended, newest first.

    Parameters
    ----------
    now : datetime
        The server's time.
    ended : bool
        Which of the two.
    search : str
        Words that all have to be found in serial, module, place, job number or where it went.

    Returns
    -------
    tuple[WatchInfo, ...]
        Without the names of people.
    """
    rows = _searched(_rows().filter(ended_at__isnull=not ended), search)
    if ended:
        return tuple(_info(row, now, {}) for row in rows.order_by("-ended_at")[:ENDED_SHOWN])
    return tuple(sorted((_info(row, now, {}) for row in rows), key=lambda info: info.urgency))


def watches_of(job_id: str, now: datetime) -> tuple[WatchInfo, ...]:
    """Give the watches of a job's modules, oldest first, without the names of people."""
    rows = _rows().filter(job_id=shop.uuid_of(job_id)).order_by("started_at")
    return tuple(_info(row, now, {}) for row in rows)


def watch(watch_id: str, now: datetime) -> WatchInfo | None:
    """Give one watch with all its checks and the names in it; None where there is none."""
    row = _rows().filter(pk=shop.uuid_of(watch_id)).first()
    if row is None:
        return None
    people = {str(each.person) for each in row.checks.all()} | {str(row.started_by)}
    names = shop.names(people | ({str(row.ended_by)} if row.ended_by else set()))
    return _info(row, now, names)


def due_checks(now: datetime) -> tuple[DueCheck, ...]:
    """Give what has to be checked now, the most urgent first.

    A module whose last check was not calm stands among them also while its next check lies ahead.
    """
    return tuple(
        DueCheck(
            watch_id=info.id,
            job_id=info.job_id,
            job_number=info.job_number,
            module=info.module,
            serial=info.serial,
            place=info.place,
            due_at=info.schedule.next.due_at,
            overdue=info.schedule.next.state == "overdue",
            due=info.schedule.next.state != "ahead",
            missed=len(info.schedule.missed),
            verdict=str(info.word),
        )
        for info in watches(now)
        if info.schedule.next.state != "ahead" or info.word is not Word.CALM
    )
