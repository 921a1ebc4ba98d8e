"""What the readings of a step say, in words: verdict, figures with limits, pictures, advice."""

from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from jobs.core.section import Section
from jobs.report.wording import Wording
from jobs.steps import STEPS
from packs.svg import svg

__all__ = ["Line", "Panel", "panel_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A fact in words."""

    label: str
    value: str
    verdict: str
    limit: str


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
                label=gettext(fact.label),
                value=words.words(fact.value),
                verdict=fact.verdict,
                limit=words.limit(fact.limit, fact.limit_kind, fact.limit_source),
            )
            for fact in section.facts
        ),
        back=tuple((step.slug, gettext(step.title)) for step in STEPS if step.slug in section.back),
        # Every text inside a picture is escaped where it is drawn.
        pictures=tuple(mark_safe(svg(picture)) for picture in section.pictures),  # noqa: S308
    )
