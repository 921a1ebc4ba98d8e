"""Entering a value that was written on a printed sheet first."""

from dataclasses import replace

from jobs.actions.chain import iso
from jobs.actions.context import Act, Allowed, Refused
from jobs.actions.values import take_value
from jobs.core.item import PersonUsed, read_person
from jobs.core.order import find_item
from jobs.core.paper import NO_WRITER, Paper, as_written, paper_gate, read_paper, stored_paper
from jobs.core.reason import Blocker, InputRefused
from jobs.core.refusals import NOT_YOURS
from jobs.steps import STEPS
from workshop import errors as shop_errors
from workshop import queries as shop

__all__ = ["take_from_paper"]


def _writer(paper: Paper, act: Act) -> PersonUsed | None:
    """Give who wrote it as they stand; None for nobody of the workshop."""
    try:
        return read_person(shop.person_snapshot(paper.by, shop.local_day(act.now)))
    except shop_errors.Refused:
        return None


def _typist(act: Act) -> tuple[Blocker, ...]:
    """Say that whoever types it in may not enter such a value."""
    found = find_item(STEPS, act.record, act.draft.item)
    if found is None:
        return ()
    step, item = found
    may = act.by.role in (item.by or step.entrants)
    return () if may else (NOT_YOURS(item.key, role=act.by.role),)


def take_from_paper(act: Act) -> Allowed | Refused:
    """Enter a value as of the time it was written, and keep which sheet it stood on.

    Parameters
    ----------
    act : Act
        The draft with its sheet, and the job as it stands.

    Returns
    -------
    Allowed | Refused
        As for any value; refused too where the sheet cannot carry it.
    """
    try:
        paper = read_paper(act.draft.paper)
    except InputRefused as refused:
        return Refused((refused.blocker,))
    writer = _writer(paper, act)
    if writer is None:
        return Refused((NO_WRITER(act.draft.item),))
    blockers = (
        *_typist(act),
        *paper_gate(STEPS, act.record, key=act.draft.item, paper=paper),
    )
    if blockers:
        return Refused(blockers)
    # It is the writer who did it: whether they might is asked, as of then.
    outcome = take_value(replace(act, by=writer, record=as_written(act.record, paper)))
    if isinstance(outcome, Refused):
        return outcome
    return replace(outcome, paper=stored_paper(paper, iso(paper.written_at)))
