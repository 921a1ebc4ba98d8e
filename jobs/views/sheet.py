"""The printed sheet of a step: what can be written by hand, up to the next hold point.

Here: which lines it has and the page. What may come back from it is `jobs.core.paper`.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from jobs.core.item import Item, Shape
from jobs.core.order import hold_passed, holds_of, step_state
from jobs.core.paper import on_paper, sheet_number
from jobs.core.record import Record
from jobs.core.step import Step
from jobs.queries.records import JobInfo
from jobs.steps import STEPS
from jobs.views.cards import Bench, Card
from jobs.views.groups import Group, groups_of
from jobs.views.job import found
from jobs.views.page import WORKED_ON, Band, band_of, person_used, wording_for
from jobs.views.picks import people_picks, picks_for
from workshop.people import PersonInfo
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["Sheet", "sheet", "sheet_of"]

FREE_LINES = 3
"""Blank lines for what may be entered any number of times."""

CHOSEN_LINES = 6
"""Blank lines for a reading whose place is chosen when it is taken."""

SERIES_LINES = 12
"""Blank lines for samples over time."""

PICKS_SHOWN = 8
"""Register entries printed to be ticked; more are left to be written."""


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to write.

    Attributes
    ----------
    card : Card
        What is asked, and which one of it.
    blanks : tuple[str, ...]
        What stands before each blank; empty words for a plain one.
    options : tuple[str, ...]
        Answers to be ticked.
    """

    card: Card
    blanks: tuple[str, ...]
    options: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Heading:
    """Lines under one heading."""

    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet of one step.

    Attributes
    ----------
    job : JobInfo
        The job.
    step : Step
        The step.
    number : str
        Number of the sheet, typed back in with what was written on it.
    printed_at : datetime
        When, in the workshop's zone.
    band : Band
        State of the high voltage when printed.
    headings : tuple[Heading, ...]
        What to write.
    left_out : tuple[str, ...]
        What is asked before the sheet's end but is done on the screen only.
    stop : str
        The act whose hold point ends the sheet; empty where the step has none ahead.
    open : bool
        Whether the step is worked on at all.
    """

    job: JobInfo
    step: Step[Any]
    number: str
    printed_at: datetime
    band: Band
    headings: tuple[Heading, ...]
    left_out: tuple[str, ...]
    stop: str
    open: bool


def _options(item: Item[Any], card: Card) -> tuple[str, ...]:
    match item.shape:
        case Shape.TICK:
            return (gettext("done"),)
        case Shape.CHOICE:
            return tuple(gettext(each.label) for each in item.choices)
        case Shape.EQUIPMENT | Shape.SPARE | Shape.PERSON:
            usable = tuple(pick.label for pick in card.picks if pick.usable)
            return usable if len(usable) <= PICKS_SHOWN else ()
        case _:
            return ()


def _blanks(item: Item[Any], card: Card) -> tuple[str, ...]:
    if item.rows:
        return item.rows
    if item.shape is Shape.SERIES:
        return ("",) * SERIES_LINES
    if card.parts:
        return ("",) * CHOSEN_LINES
    return ("",) * (FREE_LINES if item.many == "free" else 1)


def _asked(card: Card) -> bool:
    """Tell whether a card still takes something."""
    return card.open and not (card.given and not card.parts and card.item.many != "free")


def _end(step: Step[Any], record: Record) -> tuple[str, str]:
    """Give the next hold point not passed: its slug and the act it stands before."""
    for hold in holds_of(step, record):
        if not hold_passed(record, step, hold):
            return hold.slug, hold.act
    return "", ""


def _before(groups: tuple[Group, ...], hold: str) -> tuple[Group, ...]:
    """Give the groups that stand before a hold point; all of them where there is none."""
    ends = (i for i, group in enumerate(groups) if any(c.item.hold == hold for c in group.cards))
    return groups[: next(ends, len(groups))] if hold else groups


def _heading(group: Group) -> Heading:
    """Make the lines of what is still asked under one heading and can be written by hand."""
    cards = (card for card in group.cards if _asked(card) and on_paper(card.item))
    lines = (Line(card, _blanks(card.item, card), _options(card.item, card)) for card in cards)
    return Heading(group.title, tuple(lines))


def sheet_of(job: JobInfo, record: Record, step: Step[Any], person: PersonInfo) -> Sheet:
    """Make the sheet of a step as of now.

    Parameters
    ----------
    job : JobInfo
        The job.
    record : Record
        The job as it stands.
    step : Step
        The step.
    person : PersonInfo
        Who prints it.

    Returns
    -------
    Sheet
        Every item that can be written by hand before the next hold point, in the order asked.
    """
    words = wording_for(job, record)
    bench = Bench(record, person_used(person), picks_for(step, record, people_picks(record)), words)
    slug, act = _end(step, record)
    groups = _before(groups_of(step, bench), slug)
    asked = [card for group in groups for card in group.cards if _asked(card)]
    return Sheet(
        job=job,
        step=step,
        number=sheet_number(job.number, STEPS.index(step) + 1, job.count),
        printed_at=record.now,
        band=band_of(record, words),
        headings=tuple(filter(lambda heading: heading.lines, map(_heading, groups))),
        left_out=tuple(dict.fromkeys(gettext(c.item.label) for c in asked if not on_paper(c.item))),
        stop=gettext(act) if act else "",
        open=step_state(STEPS, record, step) in WORKED_ON,
    )


@require_GET
@signed_on()
def sheet(request: ShopRequest, job_id: str, slug: str) -> HttpResponse:
    """Show the sheet of a step, to be printed."""
    wanted = next((each for each in STEPS if each.slug == slug), None)
    if wanted is None or request.person is None:
        raise Http404
    info, folded = found(job_id)
    made = sheet_of(info, folded, wanted, request.person)
    # The template of the step brings its cautions into whichever frame it is given.
    return render(request, f"jobs/steps/{slug}.html", {"sheet": made, "frame": "jobs/sheet.html"})
