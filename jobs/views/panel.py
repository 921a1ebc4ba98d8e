"""What the readings of a step say, in words: verdict, figures with limits, pictures, advice."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from jobs.core.section import Proposal, Section
from jobs.report.wording import Wording
from jobs.steps import STEPS
from jobs.views.cards import anchor_of
from packs.svg import svg

__all__ = ["Count", "Line", "Panel", "Proposed", "panel_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A fact in words."""

    label: str
    value: str
    verdict: str
    limit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposed:
    """A reading worth taking next, in words, with the card that takes it.

    Attributes
    ----------
    item, qualifier : str
        What is entered there, and which one of the collection.
    href, first_href : str
        Where it stands; where to go before, if anything comes before.
    what, how, why, first : str
        Which pole; links and shunt; what it decides; what comes before.
    """

    item: str
    qualifier: str
    href: str
    what: str
    how: str
    why: str
    first: str = ""
    first_href: str = ""


@dataclass(frozen=True, slots=True)
class Count:
    """A time that runs, with what is said once it is over."""

    text: str
    until: datetime
    over: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """What the readings say, in words."""

    verdict: str
    headline: str
    advice: tuple[str, ...]
    warnings: tuple[str, ...]
    lines: tuple[Line, ...]
    pictures: tuple[SafeString, ...]
    back: tuple[tuple[str, str], ...] = ()
    proposals: tuple[Proposed, ...] = ()
    suspects: tuple[str, ...] = ()
    counts: tuple[Count, ...] = ()


def _first_href(proposal: Proposal) -> str:
    """Give where to go before a reading can be taken; empty where nothing comes before."""
    if proposal.first_hold:
        return f"#hold-{proposal.first_hold}"
    if proposal.first_item:
        return f"#{anchor_of(proposal.first_item, proposal.first_qualifier)}"
    return ""


def _proposed(proposal: Proposal, words: Wording) -> Proposed:
    """Put a proposal into words; where the card asks which one there is a single card."""
    own = "" if proposal.chosen else proposal.qualifier
    return Proposed(
        item=proposal.item,
        qualifier=proposal.qualifier,
        href=f"#{anchor_of(proposal.item, own)}",
        what=words.said(proposal.what),
        how=", ".join(words.said(each) for each in proposal.how),
        why=words.said(proposal.why),
        first="" if proposal.first is None else words.said(proposal.first),
        first_href=_first_href(proposal),
    )


def panel_of(section: Section, words: Wording) -> Panel:
    """Put a section into words.

    Parameters
    ----------
    section : Section
        What a step says.
    words : Wording
        Names, zone and language.

    Returns
    -------
    Panel
        The same in words, pictures drawn.
    """
    return Panel(
        verdict=section.verdict,
        headline="" if section.headline is None else words.said(section.headline),
        advice=tuple(words.said(each) for each in section.advice),
        warnings=tuple(words.said(each) for each in section.warnings),
        lines=tuple(
            Line(
                label=words.words(fact.label),
                value=words.words(fact.value),
                verdict=fact.verdict,
                limit=words.limit(fact.limit, fact.limit_kind, fact.limit_source),
            )
            for fact in section.facts
        ),
        back=tuple((step.slug, gettext(step.title)) for step in STEPS if step.slug in section.back),
        proposals=tuple(_proposed(each, words) for each in section.proposals),
        suspects=tuple(
            gettext("Look at this reading first: {reading}.").format(
                reading=each.text.params["reading"]
            )
            for each in section.suspects
        ),
        counts=tuple(
            Count(words.said(each.text), each.until, words.said(each.over))
            for each in section.counts
        ),
        # Every text inside a picture is escaped where it is drawn.
        pictures=tuple(mark_safe(svg(picture)) for picture in section.pictures),  # noqa: S308
    )
