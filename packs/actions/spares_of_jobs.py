"""What the entries of a job do with spares: hold one, fit it, let it go; each is done once.

A job is known here by its number only. Who calls, and when, is the business of the jobs.
"""

from datetime import datetime
from typing import Final
from uuid import UUID

from django.db import transaction

from packs.actions.spare_rows import Done, add_event, locked
from packs.errors import Conflict
from packs.models import Spare
from packs.queries.spares import spare
from packs.spares import (
    FITTED,
    IN_STOCK,
    JOB_MOVES,
    MOVED,
    QUARANTINED,
    RESERVED,
    STATES,
    SpareInfo,
)

AFTER_FITTING: Final = (
    "It was fitted in this job, which closed without it: it may be in the pack, or have failed "
    "there. Find it and test it before it is used."
)
"""Why a spare goes to quarantine when its job closes."""


@transaction.atomic
def hold_spare(
    *, spare_id: UUID, job: str, module: str, by: UUID | None, now: datetime, note: str = ""
) -> SpareInfo:
    """Reserve a spare for a module of a job; one that is fitted there is held again.

    Parameters
    ----------
    spare_id : UUID
        The spare's key.
    job : str
        Number of the job.
    module : str
        Position that it is meant for.
    by : UUID or None
        Key of the person whose entry it is.
    now : datetime
        The moment.
    note : str
        Why, where a reason was given.

    Returns
    -------
    SpareInfo
        The spare; the same again writes nothing.

    Raises
    ------
    Conflict
        ``held_by_job`` if another job holds it, ``no_such_move`` if it may not be used.
    """
    row = locked(spare_id)
    if (row.state, row.reserved_for, row.module) == (RESERVED, job, module):
        return spare(spare_id)
    _check(row, job, RESERVED)
    return _held(row, RESERVED, (job, module), Done(by, now, note))


@transaction.atomic
def fit_spare(
    *, spare_id: UUID, job: str, module: str, by: UUID | None, now: datetime
) -> SpareInfo:
    """Enter a spare as fitted where a job held it; the history names job and position.

    Parameters
    ----------
    spare_id : UUID
        The spare's key.
    job : str
        Number of the job.
    module : str
        Position in the string.
    by : UUID or None
        Key of the person who signed.
    now : datetime
        The moment.

    Returns
    -------
    SpareInfo
        The spare; the same again writes nothing.

    Raises
    ------
    Conflict
        ``held_by_job`` if another job holds it, ``no_such_move`` if it may not be used.
    """
    row = locked(spare_id)
    if (row.state, row.reserved_for, row.module) == (FITTED, job, module):
        return spare(spare_id)
    if row.state == IN_STOCK:
        hold_spare(spare_id=spare_id, job=job, module=module, by=by, now=now)
        row = locked(spare_id)
    _check(row, job, FITTED)
    return _held(row, FITTED, (job, module), Done(by, now))


@transaction.atomic
def release_spares(
    *,
    job: str,
    keep: frozenset[UUID] = frozenset(),
    set_aside: bool = False,
    by: UUID | None,
    now: datetime,
    note: str = "",
) -> None:
    """Put back into stock what a job held and needs no more, unless it was fitted.

    What was fitted may sit in the pack or have failed there. It stays reserved while the job is
    open and goes to quarantine when it closes; a person who has it in hand decides.

    Parameters
    ----------
    job : str
        Number of the job.
    keep : frozenset of UUID
        Spares that it goes on holding.
    set_aside : bool
        Whether also those that a hand had set aside for it: the job closes.
    by : UUID or None
        Key of the person whose entry it is.
    now : datetime
        The moment.
    note : str
        Why.
    """
    rows = Spare.objects.select_for_update().filter(reserved_for=job).exclude(id__in=keep)
    for row in rows.order_by("serial"):
        module = row.module
        if not module and not set_aside:
            continue
        was_fitted = _was_fitted(row, job)
        if was_fitted:
            row.state, row.reserved_for = (QUARANTINED, "") if set_aside else (RESERVED, job)
        else:
            row.state, row.reserved_for = IN_STOCK, ""
        row.module = ""
        row.save(update_fields=["state", "reserved_for", "module"])
        why = f"{AFTER_FITTING} {note}" if was_fitted and set_aside else note
        add_event(row, Done(by, now, why), kind=MOVED, job=job, module=module)


def _was_fitted(row: Spare, job: str) -> bool:
    """Tell whether a job fitted a spare since it last stood in stock."""
    states = list(row.events.order_by("number").values_list("state", "job"))
    since = max((n for n, (state, _job) in enumerate(states) if state == IN_STOCK), default=0)
    return (FITTED, job) in states[since:]


def _check(row: Spare, job: str, state: str) -> None:
    """Refuse what another job holds, and what cannot follow."""
    if row.reserved_for and row.reserved_for != job:
        raise Conflict("held_by_job", job=row.reserved_for)
    aside = row.state == RESERVED and not row.reserved_for
    if aside or state not in JOB_MOVES.get(row.state, frozenset()):
        raise Conflict("no_such_move", before=STATES[row.state], after=STATES[state])


def _held(row: Spare, state: str, where: tuple[str, str], done: Done) -> SpareInfo:
    """Write the new state, job and module with its line of history."""
    row.state, (row.reserved_for, row.module) = state, where
    row.save(update_fields=["state", "reserved_for", "module"])
    add_event(row, done, kind=MOVED)
    return spare(row.id)
