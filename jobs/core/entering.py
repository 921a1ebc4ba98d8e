"""What stands against entering or striking a value."""

from typing import Any

from jobs.core.entry import Entry, Json
from jobs.core.item import Effect, Item, PersonUsed, Shape, qualifier_of, qualifier_parts
from jobs.core.order import (
    Steps,
    closed_blockers,
    find_item,
    hold_passed,
    holds_of,
    order_blockers,
    signed_blockers,
)
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.refusals import (
    CLOSED,
    HOLD,
    LID_WAS_OFF,
    NO_HOLD,
    NO_PROOF,
    NOT_OFFERED,
    NOT_STRUCK,
    NOT_YOURS,
    OTHER_PERSON,
    QUALIFIER,
    RECORDED,
    ROW_RECORDED,
    UNKNOWN,
)
from jobs.core.step import Step
from jobs.core.torque_entered import entered

__all__ = ["enter_gate", "row_gate", "rows_in_force", "strike_gate"]


def _fits(item: Item[Any], qualifier: str, parts: dict[str, str]) -> bool:
    """Tell whether a qualifier is one that the item asks for."""
    if set(parts) != set(item.qualifiers) or qualifier_of(**parts) != qualifier:
        return False
    if not all(parts.values()):
        return False
    return all(parts[name] in allowed for name, allowed in item.options.items() if allowed)


def rows_in_force(item: Item[Any], record: Record, qualifier: str) -> frozenset[str]:
    """Give the bolts of a torque list that have a value that counts."""
    return frozenset(entered(record, item, qualifier).values)


def _full(item: Item[Any], record: Record, qualifier: str) -> bool:
    """Tell whether nothing more can be entered; a torque list takes its bolts one by one."""
    if item.shape is not Shape.TORQUE:
        return any(e.qualifier == qualifier for e in record.live.get(item.key, ()))
    return rows_in_force(item, record, qualifier) >= frozenset(item.rows)


def row_gate(
    item: Item[Any], record: Record, *, qualifier: str, value: Json
) -> tuple[Blocker, ...]:
    """Say what stands against this very value: a bolt that has one already, or what its step says.

    Parameters
    ----------
    item : Item
        The item.
    record : Record
        The job as it stands.
    qualifier : str
        Which one of it.
    value : Json
        The value as it would be stored.

    Returns
    -------
    tuple[Blocker, ...]
        Empty where the value may be entered.
    """
    against = None if item.refused is None else item.refused(qualifier, value)
    if against is not None:
        return (against,)
    if item.shape is not Shape.TORQUE:
        return ()
    there = rows_in_force(item, record, qualifier)
    twice = [row for row in value if row in there]
    return (ROW_RECORDED(item.key, qualifier, rows=", ".join(twice)),) if twice else ()


def _qualifier(item: Item[Any], record: Record, qualifier: str) -> tuple[Blocker, ...]:
    if item.many == "free":
        return ()
    if not _fits(item, qualifier, qualifier_parts(qualifier)):
        return (QUALIFIER(item.key, parts=", ".join(item.qualifiers) or "nothing"),)
    asked = (*item.offered, *item.expected)
    if asked and not item.options and qualifier not in asked:
        return (NOT_OFFERED(item.key, qualifier),)
    return (RECORDED(item.key, qualifier),) if _full(item, record, qualifier) else ()


def _barred(item: Item[Any], qualifier: str) -> tuple[Blocker, ...]:
    """Say what has to be done before this one, in the words of its step."""
    waits = None if item.barred is None else item.barred(qualifier)
    return () if waits is None else (waits,)


def _proof(item: Item[Any], record: Record, person: str) -> tuple[Blocker, ...]:
    if not item.needs_proof:
        return ()
    if not record.proof_holds() or record.proof is None:
        return (NO_PROOF(item.key),)
    if person not in {record.proof.technician, record.proof.second}:
        return (OTHER_PERSON(item.key),)
    return ()


def _hold(step: Step[Any], item: Item[Any], record: Record) -> tuple[Blocker, ...]:
    if not item.hold:
        return ()
    for hold in holds_of(step, record):
        if hold.slug == item.hold:
            return () if hold_passed(record, step, hold) else (HOLD(item.key, act=hold.act),)
    return (NO_HOLD(item.key),)


def enter_gate(
    steps: Steps, record: Record, *, key: str, qualifier: str, by: PersonUsed
) -> tuple[Blocker, ...]:
    """Say what stands against entering a value.

    Parameters
    ----------
    steps : Steps
        The steps in order.
    record : Record
        The job as it stands.
    key, qualifier : str
        The item and which one of it.
    by : PersonUsed
        Who enters it.

    Returns
    -------
    tuple[Blocker, ...]
        Empty when the value may be entered.
    """
    found = find_item(steps, record, key)
    if found is None:
        return closed_blockers(record) or (UNKNOWN(key),)
    step, item = found
    roles = item.by or step.entrants
    checks = [
        closed_blockers(record),
        ()
        if by.role in roles or item.shape is Shape.SIGNATURE
        else (NOT_YOURS(key, role=by.role),),
        _qualifier(item, record, qualifier),
    ]
    if item.anytime:
        checks.append(_barred(item, qualifier))
    else:
        checks += [
            order_blockers(steps, record, step),
            signed_blockers(record, step),
            _proof(item, record, by.id),
        ]
        checks.append(_hold(step, item, record) or _barred(item, qualifier))
    return tuple(blocker for check in checks for blocker in check)


def _opened(step: Step[Any] | None, record: Record, entry: Entry) -> tuple[Blocker, ...]:
    """Say that a lid under which something was entered since cannot be said never to be off."""
    if step is None or entry.effect != Effect.OPENS_PACK:
        return ()
    behind = [item.key for item in step.items(record) if item.hold and item.key != entry.item]
    later = any(e.seq > entry.seq for key in behind for e in record.live.get(key, ()))
    return (LID_WAS_OFF(entry.item),) if later else ()


def strike_gate(
    steps: Steps, record: Record, *, key: str, by: PersonUsed | None = None
) -> tuple[Blocker, ...]:
    """Say what stands against striking the value with that entry key (for this person).

    Notes
    -----
    Whoever may enter an item may strike it; a signature, whoever works on the step.
    """
    if record.closed is not None:
        return (CLOSED(),)
    entry = next((e for values in record.live.values() for e in values if e.key == key), None)
    if entry is None:
        return (NOT_STRUCK(),)
    slug = entry.item.partition(".")[0]
    step = next((step for step in steps if step.slug == slug), None)
    found = find_item(steps, record, entry.item)
    roles = () if step is None else step.entrants if found is None else found[1].by or step.entrants
    other = by is not None and roles and by.role not in roles
    not_theirs = (NOT_YOURS(entry.item, role=by.role),) if by is not None and other else ()
    if found is not None and found[1].anytime:
        return not_theirs
    signed = signed_blockers(record, step) if step is not None else ()
    return (*signed, *not_theirs, *_opened(step, record, entry))
