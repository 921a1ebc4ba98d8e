"""Every reason of the program by its code, so that a stored refusal can be said again."""

from collections.abc import Mapping
from functools import cache

from jobs.actions import (
    attachments,
    booking,
    closing,
    desk,
    door,
    logs,
    practice,
    signing,
    stock,
    tablets,
    values,
)
from jobs.core import drawn, paper, parsing, refusals
from jobs.core.reason import Reason
from jobs.steps import STEPS

__all__ = ["all_reasons", "sentence_of"]


@cache
def all_reasons() -> Mapping[str, Reason]:
    """Give every reason by its code."""
    groups = (
        refusals.REASONS,
        parsing.REASONS,
        paper.REASONS,
        drawn.REASONS,
        values.REASONS,
        signing.REASONS,
        closing.REASONS,
        booking.REASONS,
        desk.REASONS,
        attachments.REASONS,
        door.REASONS,
        logs.REASONS,
        stock.REASONS,
        practice.REASONS,
        tablets.REASONS,
        *(step.reasons for step in STEPS),
    )
    return {reason.code: reason for group in groups for reason in group}


def sentence_of(code: str) -> str:
    """Give the sentence of a code; the code itself where a later version no longer knows it."""
    reason = all_reasons().get(code)
    return code if reason is None else reason.text
