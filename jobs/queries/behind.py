"""The fact behind what holds a job: what was agreed or found last, in one short line."""

from typing import Any
from uuid import UUID

from jobs.core.quote_answer import answer_in_force
from jobs.core.record import Record, Signature
from jobs.core.section import Said
from jobs.core.step import Step
from jobs.queries.signed import as_signed
from jobs.steps import STEPS
from jobs.steps.fault_localisation.assessment import assess as assess_leak
from jobs.steps.fault_localisation.assessment import leaking_modules, outcome
from jobs.steps.fault_localisation.items import MODULE_OHM, QUOTE, READING
from jobs.steps.fault_localisation.items import OUTCOME as LEAKS
from jobs.steps.isolation_readings.assessment import assess as assess_isolation

__all__ = ["fact_behind", "leak_so_far"]

HEADLINES_KEPT = 512
_HEADLINES: dict[tuple[UUID, int], Said | None] = {}
"""What each signature sealed, said once: neither it nor what stands before it ever changes."""
_FOUND_IN = LEAKS.key.partition(".")[0]


_SEARCHED = frozenset({LEAKS.key, MODULE_OHM.key, READING.key})
_SO_FAR = {
    "named": "Leak named at {modules}, to be confirmed",
    "narrowed": "Leak narrowed to {modules}",
    "undecided": "Leak not named yet, likeliest {modules}",
}


def leak_so_far(record: Record, item: str) -> Said | None:
    """Say what the readings name so far, where the next thing asked is about the leak's place.

    Parameters
    ----------
    record : Record
        The job as it stands.
    item : str
        Key of the item that is asked next.

    Returns
    -------
    Said | None
        None where something else is asked next, or nothing was read.
    """
    result = None if item not in _SEARCHED else assess_leak(record).search
    if result is None or result.result is None or result.result.verdict not in _SO_FAR:
        return None
    names = ", ".join(result.named or result.result.likely[:3])
    return Said(_SO_FAR[result.result.verdict], {"modules": names})


def _found(record: Record) -> Said | None:
    """Say where the leak was, once the fault localisation is signed."""
    if _FOUND_IN not in record.signatures:
        return None
    where = outcome(record)
    if where == "module":
        return Said("leak in module {modules}", {"modules": ", ".join(leaking_modules(record))})
    if where == "pack_not_module":
        return Said("leak in the pack, not in a module")
    parts = ", ".join(assess_isolation(record).vehicle.leaking)
    if where != "vehicle_part" or not parts:
        return None
    if record.lid_was_off:
        return Said("leak was in {parts}", {"parts": parts})
    return Said("leak was in {parts}, pack not opened", {"parts": parts})


def _agreed(record: Record, step: Step[Any]) -> Said | None:
    """Say when the customer approved, and to whom, while the fault is still looked for."""
    answer = answer_in_force(record, QUOTE)
    if step.slug != _FOUND_IN or answer is None or answer.value != "approved":
        return None
    told = {"approved_at": answer.at.isoformat(), "person": answer.person}
    return Said("quotation approved {approved_at}, {person}", told)


def _headline(job: UUID, record: Record, step: Step[Any], signature: Signature) -> Said | None:
    """Give what a signed step said when it was signed."""
    key = (job, signature.seq)
    if key not in _HEADLINES:
        if len(_HEADLINES) >= HEADLINES_KEPT:
            _HEADLINES.clear()
        then = as_signed(record, step, signature).record if signature.seal else record
        _HEADLINES[key] = step.section(then, step.assess(then)).headline
    return _HEADLINES[key]


def fact_behind(job: UUID, record: Record, step: Step[Any] | None) -> tuple[str, Said] | None:
    """Give the fact behind what holds a job, with the title of the step that tells it.

    Parameters
    ----------
    job : UUID
        The job.
    record : Record
        As it stands.
    step : Step | None
        Its open step.

    Returns
    -------
    tuple[str, Said] | None
        Title, empty where none is needed, and fact; None where nothing is known yet.
    """
    agreed = None if step is None else _agreed(record, step)
    told = agreed or _found(record)
    if told is not None:
        return "", told
    for each in reversed(STEPS):
        signature = record.signatures.get(each.slug)
        if signature is not None and signature.outcome == "done":
            said = _headline(job, record, each, signature)
            if said is not None:
                return each.title, said
    return None
