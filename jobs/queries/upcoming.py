"""The next act in the open step of a job, whoever looks at it.

The same order as on the step's page: what is missing and can be entered now, in the order asked;
then a hold point whose points are done, the proof, the signature. Asks no register.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final, Literal

from jobs.core.entering import enter_gate
from jobs.core.flow import gate, hold_gate
from jobs.core.item import Item, PersonUsed
from jobs.core.order import hold_passed, holds_of
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.refusals import QUALIFIER
from jobs.core.step import Step
from jobs.steps import STEPS

__all__ = ["Upcoming", "asked_now", "upcoming"]

_ANYBODY: Final = "00000000-0000-0000-0000-000000000000"
_NOT_WRITTEN: Final = "proof_not_written"

Asked = tuple[str, str]
"""Key and qualifier of something that is missing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Upcoming:
    """The next act.

    Attributes
    ----------
    act : {"enter", "hold", "prove", "sign", "none"}
        What is done; "none" where only a value that stands in the way can be mended.
    label : str
        Label of the item or act of the hold point; English, the key of its translation.
    qualifier : str
        Which one of a collection.
    item : Item | None
        What is entered.
    """

    act: Literal["enter", "hold", "prove", "sign", "none"]
    label: str = ""
    qualifier: str = ""
    item: Item[Any] | None = None


def asked_now(record: Record, step: Step[Any]) -> tuple[tuple[Blocker, ...], tuple[Blocker, ...]]:
    """Give what is missing before the signature, and before hold points not passed yet."""
    before = tuple(
        blocker
        for hold in holds_of(step, record)
        if not hold_passed(record, step, hold)
        for blocker in hold_gate(STEPS, record, step, hold.slug)
    )
    return gate(STEPS, record, step), before


def _person(item: Item[Any], step: Step[Any], record: Record) -> PersonUsed:
    """Give somebody who may enter the item: whoever proved the circuit dead, while that holds."""
    roles = item.by or step.entrants
    role = "technician" if "technician" in roles else roles[0]
    return PersonUsed(_ANYBODY if record.proof is None else record.proof.technician, role, {})


def _can_be_entered(step: Step[Any], item: Item[Any], qualifier: str, record: Record) -> bool:
    by = _person(item, step, record)
    found = enter_gate(STEPS, record, key=item.key, qualifier=qualifier, by=by)
    # Which one of a collection is said when it is entered.
    return all(blocker.code == QUALIFIER.code and not qualifier for blocker in found)


def _places(item: Item[Any], asked: set[Asked]) -> Iterator[str]:
    """Give the qualifiers of an item that are asked for, in the order of its cards."""
    known = tuple(dict.fromkeys((*item.expected, *item.offered)))
    if item.qualifiers and known and not item.options:
        whole = (item.key, "") in asked
        yield from (each for each in known if whole or (item.key, each) in asked)
        return
    yield from (qualifier for key, qualifier in sorted(asked) if key == item.key)


def _entered_next(
    record: Record, step: Step[Any], asked: set[Asked]
) -> tuple[Item[Any], str] | None:
    last = step.signers.second if step.signers.second_last else None
    late: tuple[Item[Any], str] | None = None
    for item in step.items(record):
        for qualifier in _places(item, asked):
            if _can_be_entered(step, item, qualifier, record):
                if last is None or item.key != last.key:
                    return item, qualifier
                late = late or (item, qualifier)
    return late


def upcoming(
    record: Record,
    step: Step[Any],
    asked: tuple[Iterable[Blocker], Iterable[Blocker]],
    *,
    leave_out: frozenset[str] = frozenset(),
) -> Upcoming:
    """Give the next act of a step that is open.

    Parameters
    ----------
    record : Record
        The job as it stands.
    step : Step
        Its open step.
    asked : tuple
        What `asked_now` gave.
    leave_out : frozenset[str]
        Keys of items that are not meant, such as one that waits for its time.

    Returns
    -------
    Upcoming
        What is done next.
    """
    missing = tuple(asked[0])
    points = {
        (each.item, each.qualifier)
        for each in (*missing, *asked[1])
        if each.item and each.item not in leave_out
    }
    found = _entered_next(record, step, points)
    if found is not None:
        item, qualifier = found
        return Upcoming(act="enter", label=item.label, qualifier=qualifier, item=item)
    for hold in holds_of(step, record):
        if not hold_passed(record, step, hold) and not hold_gate(STEPS, record, step, hold.slug):
            return Upcoming(act="hold", label=hold.act)
    if missing and all(each.code == _NOT_WRITTEN for each in missing):
        return Upcoming(act="prove")
    return Upcoming(act="none" if missing else "sign", label=step.title)
