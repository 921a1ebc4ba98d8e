"""Everything the pages of a watch show, put into words before a template runs."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from jobs.actions.quarantine import CORRECTED_WITHIN, ENDINGS, HANDED_OVER
from jobs.core.item import Item
from jobs.core.watch import Check, Sign, Slot, Word
from jobs.core.watch_picture import watch_picture
from jobs.queries.quarantine import WatchInfo
from jobs.queries.records import limits_in_force
from jobs.report.wording import Wording
from jobs.steps.module_swap.items import CONDITION, QUARANTINE_CLASS
from jobs.views.watch_forms import SIGNS
from packs.svg import svg
from workshop.people import LIVE_WORK, MANAGER, TECHNICIAN, PersonInfo, holds

__all__ = ["HistoryRow", "WatchPage", "WatchRow", "offered_endings", "watch_page", "watch_row"]

WORDS: Final = {
    Word.CALM: "Calm",
    Word.ESCALATE: "Not calm",
    Word.EVACUATE: "Everybody away",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchRow:
    """One watch of the list, in words."""

    info: WatchInfo
    word: str
    ended: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryRow:
    """One line of the history: a check, or one that nobody made."""

    at: datetime
    check: Check | None
    word: str
    reasons: tuple[str, ...]
    signs: str
    name: str
    late: bool = False
    wrong: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchPage:
    """A watch in words.

    Attributes
    ----------
    reasons : tuple[str, ...]
        Why the last check was not calm.
    held : tuple[str, ...]
        What stands against a release.
    correctable : str
        Key of the last check where it may still be corrected; empty where not.
    may_end : bool
        Whether the reader may end the watch.
    """

    info: WatchInfo
    word: str
    reasons: tuple[str, ...]
    held: tuple[str, ...]
    history: tuple[HistoryRow, ...]
    picture: SafeString | None
    class_words: str
    condition_words: str
    started_by: str
    ended_by: str
    ended: str
    correctable: str
    may_end: bool


def _label(item: Item[str], value: str) -> str:
    """Give the words of a choice."""
    labels = {choice.value: choice.label for choice in item.choices}
    return gettext(labels.get(value, value)) if value else ""


def _signs(signs: frozenset[Sign]) -> str:
    return ", ".join(str(words) for sign, words in SIGNS if sign in signs)


def watch_row(info: WatchInfo) -> WatchRow:
    """Put one watch of the list into words."""
    return WatchRow(
        info=info,
        word=gettext(WORDS[info.word]),
        ended=gettext(ENDINGS[info.ended_how]) if info.ended_how else "",
    )


def _check_row(
    info: WatchInfo, check: Check, late: frozenset[datetime], words: Wording
) -> HistoryRow:
    return HistoryRow(
        at=check.at,
        check=check,
        word=gettext(WORDS[check.word]),
        reasons=tuple(words.said(reason) for reason in check.reasons),
        signs=_signs(check.signs),
        name=words.name(check.person),
        late=check.at in late,
        wrong=check.key in info.wrong,
    )


def _served_late(info: WatchInfo) -> frozenset[datetime]:
    """Give the times of the checks that came later than they were due."""
    late = [slot for slot in info.schedule.slots if slot.state == "late"]
    return frozenset(
        min(check.at for check in info.checks if slot.late_at < check.at < slot.closes_at)
        for slot in late
    )


def _missed_row(slot: Slot) -> HistoryRow:
    return HistoryRow(
        at=slot.due_at, check=None, word=gettext("Missed"), reasons=(), signs="", name=""
    )


def _history(info: WatchInfo, words: Wording) -> tuple[HistoryRow, ...]:
    late = _served_late(info)
    rows = [_check_row(info, check, late, words) for check in info.checks]
    rows += [_missed_row(slot) for slot in info.schedule.missed]
    return tuple(sorted(rows, key=lambda row: row.at, reverse=True))


def _picture(info: WatchInfo) -> SafeString | None:
    limit_c = limits_in_force().watch_above_ambient_c.value
    title = gettext("Hottest point above the air around")
    picture = watch_picture(info.started_at, info.checks, limit_c=limit_c, title=title)
    # Every text inside a picture is escaped where it is drawn.
    return None if picture is None else mark_safe(svg(picture))  # noqa: S308


def offered_endings(info: WatchInfo) -> tuple[str, ...]:
    """Name the ends that are possible now: before its time only a hand-over."""
    return (HANDED_OVER,) if info.release else tuple(how for how in ENDINGS if how != HANDED_OVER)


def watch_page(info: WatchInfo, reader: PersonInfo, words: Wording, now: datetime) -> WatchPage:
    """Put a watch into words.

    Parameters
    ----------
    info : WatchInfo
        The watch.
    reader : PersonInfo
        Who looks at it.
    words : Wording
        Names in it, the workshop's zone.
    now : datetime
        The server's time.

    Returns
    -------
    WatchPage
        All that the page shows.
    """
    last, day = info.last, now.astimezone(words.zone).date()
    correctable = last is not None and now - last.at <= CORRECTED_WITHIN and not info.ended_at
    return WatchPage(
        info=info,
        word=gettext(WORDS[info.word]),
        reasons=() if last is None else tuple(words.said(reason) for reason in last.reasons),
        held=tuple(words.said(blocker) for blocker in info.release),
        history=_history(info, words),
        picture=_picture(info),
        class_words=_label(QUARANTINE_CLASS, info.quarantine_class),
        condition_words=_label(CONDITION, info.condition),
        started_by=words.name(info.started_by),
        ended_by=words.name(info.ended_by) if info.ended_by else "",
        ended=gettext(ENDINGS[info.ended_how]) if info.ended_how else "",
        correctable=last.key if last is not None and correctable else "",
        may_end=reader.role in {TECHNICIAN, MANAGER} and holds(reader, LIVE_WORK, day),
    )
