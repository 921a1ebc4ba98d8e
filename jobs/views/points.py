"""What is missing, each with the place on the page where it is mended; hold points with theirs."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext

from jobs.core.flow import blocker_digest, hold_gate
from jobs.core.order import hold_passed, holds_of
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.refusals import HOLD
from jobs.core.step import Step
from jobs.report.wording import Wording
from jobs.steps import STEPS
from jobs.views.cards import Card, anchor_of
from jobs.views.groups import Group

__all__ = ["HoldCard", "Places", "Point", "hold_cards", "hold_missing", "points_of"]


@dataclass(frozen=True, slots=True)
class Point:
    """One point that is missing, with where to mend it; `until` where only time mends it."""

    text: str
    href: str
    digest: str = ""
    until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldCard:
    """A hold point, asked before the act."""

    step: str
    slug: str
    act: str
    cautions: tuple[str, ...]
    passed_by: str
    passed_at: datetime | None
    points: tuple[Point, ...]
    open: bool
    next: bool = False

    @property
    def anchor(self) -> str:
        """Where lists jump to."""
        return f"hold-{self.slug}"


@dataclass(frozen=True, slots=True)
class Places:
    """Where on a job's pages a point is mended."""

    job: str
    step: Step[Any]
    cards: tuple[Card, ...]
    holds: tuple[tuple[str, str], ...]

    @classmethod
    def on(cls, job: str, step: Step[Any], groups: Iterable[Group], record: Record) -> "Places":
        """Gather the places of a step's page.

        Parameters
        ----------
        job : str
            The job.
        step : Step
            The step of the page.
        groups : Iterable[Group]
            Its cards.
        record : Record
            The job as it stands.

        Returns
        -------
        Places
            Its cards and hold points with their anchors.
        """
        holds = holds_of(step, record)
        return cls(
            job,
            step,
            tuple(card for group in groups for card in group.cards),
            tuple((hold.act, f"hold-{hold.slug}") for hold in holds),
        )

    def href(self, blocker: Blocker) -> str:
        """Give the address that mends a point; empty where nothing on a page does."""
        if blocker.code == HOLD.code:
            anchors = dict(self.holds)
            act = str(blocker.params.get("act", ""))
            return f"#{anchors[act]}" if act in anchors else ""
        slug = blocker.item.partition(".")[0]
        if not slug:
            return ""
        if slug != self.step.slug:
            page = reverse("jobs:step", args=(self.job, slug))
            return f"{page}#{anchor_of(blocker.item, blocker.qualifier)}"
        cards = [card for card in self.cards if card.item.key == blocker.item]
        exact = [card for card in cards if card.qualifier == blocker.qualifier]
        best = [*exact, *(card for card in cards if card.open), *cards]
        return f"#{best[0].anchor}" if best else ""


def _until(blocker: Blocker) -> datetime | None:
    """Give when a point mends itself: a waiting or cure time that runs."""
    at = blocker.params.get("until_at") or blocker.params.get("due_at")
    return datetime.fromisoformat(at) if isinstance(at, str) and at else None


def points_of(blockers: Iterable[Blocker], places: Places, words: Wording) -> tuple[Point, ...]:
    """Put points into words, each with its place.

    Parameters
    ----------
    blockers : Iterable[Blocker]
        What is missing.
    places : Places
        Where it is mended.
    words : Wording
        Names, zone and language.

    Returns
    -------
    tuple[Point, ...]
        The points in the same order.
    """
    found = []
    for blocker in blockers:
        qualifier, text = words.qualifier(blocker.qualifier), words.said(blocker)
        found.append(
            Point(
                f"{text} ({qualifier})" if qualifier else text,
                places.href(blocker),
                blocker_digest(blocker) if blocker.countersign else "",
                _until(blocker),
            )
        )
    return tuple(found)


def hold_missing(step: Step[Any], record: Record) -> tuple[Blocker, ...]:
    """Give what is missing before the hold points of a step that are not passed."""
    return tuple(
        blocker
        for hold in holds_of(step, record)
        if not hold_passed(record, step, hold)
        for blocker in hold_gate(STEPS, record, step, hold.slug)
    )


def hold_cards(
    step: Step[Any], record: Record, places: Places, words: Wording
) -> tuple[HoldCard, ...]:
    """Make the hold points of a step.

    Parameters
    ----------
    step : Step
        The step.
    record : Record
        The job as it stands, or as it stood when the step was signed.
    places : Places
        Where points are mended.
    words : Wording
        Names, zone and language.

    Returns
    -------
    tuple[HoldCard, ...]
        The hold points in order, each passed or with what is missing before it.
    """
    cards = []
    for hold in holds_of(step, record):
        entry = record.holds.get((step.slug, hold.slug))
        passed = hold_passed(record, step, hold)
        blockers = () if passed else hold_gate(STEPS, record, step, hold.slug)
        cards.append(
            HoldCard(
                step=step.slug,
                slug=hold.slug,
                act=gettext(hold.act),
                cautions=tuple(gettext(caution) for caution in hold.cautions),
                passed_by=words.name(entry.person) if passed and entry is not None else "",
                passed_at=entry.at if passed and entry is not None else None,
                points=points_of(blockers, places, words),
                open=not passed,
            )
        )
    return tuple(cards)
