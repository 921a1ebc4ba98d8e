"""Entering a value that was written on a printed sheet first."""

from dataclasses import replace

from jobs.actions.chain import iso
from jobs.actions.context import Act, Allowed, Refused
from jobs.actions.values import take_value
from jobs.core.paper import NO_WRITER, as_written, paper_gate, read_paper, stored_paper
from jobs.core.reason import InputRefused
from jobs.steps import STEPS
from workshop import queries as shop

__all__ = ["take_from_paper"]


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
    if not shop.names((paper.by,)):
        return Refused((NO_WRITER(act.draft.item),))
    blockers = paper_gate(STEPS, act.record, key=act.draft.item, paper=paper)
    if blockers:
        return Refused(blockers)
    outcome = take_value(replace(act, record=as_written(act.record, paper)))
    if isinstance(outcome, Refused):
        return outcome
    return replace(outcome, paper=stored_paper(paper, iso(paper.written_at)))
