"""Charge moved in a spare, run by run, and its rested voltage as it stands.

Here: which readings belong to which run, when current last flowed, which voltage counts and how
long the spare had rested for it. Not here: what the readings say (`charge_watch`).
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from jobs.core.item import Item, qualifier_of
from jobs.core.record import Given, Record
from jobs.core.spare_items import SpareItems

__all__ = ["Run", "Seen", "SpareState", "hours_between", "runs_of", "state_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One reading while current flows: when, by the workshop's clock, and what [V or degC]."""

    at: datetime
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Charge moved once, from the first reading to the current off.

    Attributes
    ----------
    number : int
        From 1.
    cell_v : float | None
        Rested voltage of a cell from which it began [V].
    volts, warm : tuple[Seen, ...]
        Voltage at the terminals [V], warmest spot [degC].
    off_at : datetime | None
        When the current was off; None while it flows.
    off_seq : int
        Place of that tick in the chain; 0 while it flows.
    """

    number: int
    cell_v: float | None
    volts: tuple[Seen, ...]
    warm: tuple[Seen, ...]
    off_at: datetime | None = None
    off_seq: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareState:
    """The voltage of a spare that counts now, and what stands behind it.

    Attributes
    ----------
    cell_v : float | None
        Rested voltage of a cell [V].
    key, qualifier : str
        Where it was entered.
    rest_h : float | None
        For how long no current had flowed when it was read [h].
    runs : tuple[Run, ...]
        Charge moved so far.
    moved_since : bool
        Whether current flowed since that voltage was read, so that it counts no more.
    """

    cell_v: float | None
    key: str
    qualifier: str
    rest_h: float | None
    runs: tuple[Run, ...]
    moved_since: bool

    @property
    def flowing(self) -> Run | None:
        """The run in which current flows now."""
        last = self.runs[-1] if self.runs else None
        return last if last is not None and last.off_at is None else None

    @property
    def resting(self) -> Run | None:
        """The run after which the voltage is still to be read."""
        last = self.runs[-1] if self.runs else None
        return last if self.moved_since and last is not None and last.off_at is not None else None


def hours_between(early: datetime, late: datetime) -> float:
    """Give the hours from one moment to a later one; never below zero [h]."""
    return max(timedelta(), late - early) / timedelta(hours=1)


def _mine(record: Record, item: Item[Any], name: str) -> list[Given[Any]]:
    found = (given for given in record.all(item) if given.part("module") == name)
    return sorted(found, key=lambda given: given.seq)


def _seen(given: list[Given[float]], after: int, until: int | None) -> tuple[Seen, ...]:
    return tuple(
        Seen(at=one.at, value=one.value)
        for one in given
        if one.seq > after and (until is None or one.seq < until)
    )


def _volts(record: Record, items: SpareItems, name: str) -> list[Given[float]]:
    """Give every rested voltage in force, oldest first."""
    found = (*_mine(record, items.cell_v, name), *_mine(record, items.again_v, name))
    return sorted(found, key=lambda given: given.seq)


def runs_of(record: Record, items: SpareItems, name: str) -> tuple[Run, ...]:
    """Give the runs in which charge of a spare was moved, oldest first.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : SpareItems
        The step's items.
    name : str
        The place for which the spare was picked.

    Returns
    -------
    tuple[Run, ...]
        Those that were switched off, and the one that runs.
    """
    volts, warm = _mine(record, items.watch_v, name), _mine(record, items.watch_c, name)
    rested, found, after, number = _volts(record, items, name), list[Run](), 0, 0
    for off in (*_mine(record, items.off, name), None):
        until = None if off is None else off.seq
        number = number + 1 if off is None else int(off.part("round"))
        read = _seen(volts, after, until)
        first = next((one.seq for one in volts if one.seq > after), 0)
        before = [one.value for one in rested if one.seq < first]
        if read or off is not None:
            found.append(
                Run(
                    number=number,
                    cell_v=before[-1] if before else None,
                    volts=read,
                    warm=_seen(warm, after, until),
                    off_at=None if off is None else off.at,
                    off_seq=until or 0,
                )
            )
        after = after if until is None else until
    return tuple(found)


def _rest_h(record: Record, items: SpareItems, name: str, read_at: datetime | None) -> float | None:
    """Count the rest up to a reading: hours entered, and the time since then."""
    rest = record.given(items.rest_h, qualifier_of(module=name))
    if rest is None:
        return None
    return rest.value + (0.0 if read_at is None else hours_between(rest.at, read_at))


def state_of(record: Record, items: SpareItems, name: str) -> SpareState:
    """Say which rested voltage of a spare counts now.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : SpareItems
        The step's items.
    name : str
        The place for which the spare was picked.

    Returns
    -------
    SpareState
        The voltage entered last, with the rest before it: since the current was switched off by
        the workshop's clock, or the hours entered where no charge was moved in this job.
    """
    runs, rested = runs_of(record, items, name), _volts(record, items, name)
    last = rested[-1] if rested else None
    ended = [run for run in runs if last is not None and 0 < run.off_seq < last.seq]
    rest_h = _rest_h(record, items, name, None if last is None else last.at)
    if last is not None and ended and ended[-1].off_at is not None:
        rest_h = hours_between(ended[-1].off_at, last.at)
    return SpareState(
        cell_v=None if last is None else last.value,
        key=items.cell_v.key if last is None else last.entry.item,
        qualifier=qualifier_of(module=name) if last is None else last.entry.qualifier,
        rest_h=rest_h,
        runs=runs,
        moved_since=len(ended) < len(runs),
    )
