"""What was entered for the bolts of one stage, and which of it still counts.

A bolt that was tightened again at an earlier stage was loose in between, so what a later stage
says of it is over. Not here: what the values say (`jobs.core.torque`).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from jobs.core.item import Item, qualifier_of, qualifier_parts
from jobs.core.record import Given, Record

__all__ = ["Entered", "entered", "overtaken"]

TorqueValues = Item[dict[str, float]]
_Latest = dict[str, Given[dict[str, float]]]


@dataclass(frozen=True, slots=True)
class Entered:
    """What counts of one stage, bolt by bolt [Nm]; `last_seq` is of all that was entered."""

    values: Mapping[str, float]
    day: date
    first_seq: int | None = None
    last_seq: int = 0


def _latest(record: Record, item: TorqueValues, qualifier: str) -> _Latest:
    given = (one for one in record.all(item) if one.entry.qualifier == qualifier)
    return {bolt: one for one in given for bolt in one.value}


def _earlier(qualifier: str) -> tuple[str, ...]:
    """Name the stages before this one, of the same occurrence of the list."""
    parts = qualifier_parts(qualifier)
    stage = parts.pop("stage", "")
    count = int(stage) if stage.isdecimal() else 1
    return tuple(qualifier_of(stage=str(n), **parts) for n in range(1, count))


def _sorted_out(record: Record, item: TorqueValues, qualifier: str) -> tuple[_Latest, _Latest]:
    """Part the values of a stage: those that count, those overtaken by an earlier stage."""
    floor: dict[str, int] = {}
    for each in _earlier(qualifier):
        for bolt, one in _latest(record, item, each).items():
            floor[bolt] = max(one.seq, floor.get(bolt, 0))
    latest = _latest(record, item, qualifier)
    counts = {bolt: one for bolt, one in latest.items() if one.seq > floor.get(bolt, 0)}
    return counts, {bolt: one for bolt, one in latest.items() if bolt not in counts}


def overtaken(record: Record, item: TorqueValues, qualifier: str) -> frozenset[str]:
    """Name the bolts of a stage that were tightened again at an earlier stage since.

    Parameters
    ----------
    record : Record
        The job as it stands.
    item : Item[dict[str, float]]
        The values of a torque list.
    qualifier : str
        The stage, and which occurrence of the list.

    Returns
    -------
    frozenset[str]
        Their values of this stage count no more; they are entered once more.
    """
    return frozenset(_sorted_out(record, item, qualifier)[1])


def entered(record: Record, item: TorqueValues, qualifier: str) -> Entered:
    """Give what counts of one stage; bolts may have been entered singly or all at once.

    Parameters
    ----------
    record : Record
        The job as it stands.
    item : Item[dict[str, float]]
        The values of a torque list.
    qualifier : str
        The stage, and which occurrence of the list.

    Returns
    -------
    Entered
        The newest value of each bolt [Nm], the day of the last, and their places in the chain.

    Notes
    -----
    A value counts only if it was entered after the bolt's values of all stages before it.
    """
    counts, over = _sorted_out(record, item, qualifier)
    given = sorted({one.seq: one for one in counts.values()}.items())
    last_seq = max((one.seq for one in (*counts.values(), *over.values())), default=0)
    values = {bolt: one.value[bolt] for bolt, one in counts.items()}
    if not given:
        return Entered(values, record.now.date(), last_seq=last_seq)
    return Entered(values, given[-1][1].at.date(), given[0][0], last_seq)
