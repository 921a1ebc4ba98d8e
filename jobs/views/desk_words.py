"""What the desk keeps, in words: where car and keys are, whose job it is, what was done when."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from django.utils.translation import gettext

from jobs.core import desk
from jobs.core.desk import Desk, DeskEvent
from jobs.queries.desk import KeysKept
from workshop import figures_text
from workshop.queries import people as shop_people

__all__ = ["DeskLine", "keys_words", "lines_of", "names_of", "place_words", "where_words"]

NOTHING: Final = "–"


@dataclass(frozen=True, slots=True)
class DeskLine:
    """One row of a desk's history, in words."""

    at: datetime
    who: str
    title: str
    text: str


def names_of() -> Mapping[str, str]:
    """Give the short names of everybody, of those who have left too."""
    return {each.id: each.short_name for each in shop_people(with_former=True)}


def place_words(state: Desk) -> str:
    """Say where the vehicle stands; empty where nobody wrote it down."""
    place = gettext(desk.PLACES[state.place]) if state.place in desk.PLACES else ""
    if state.spot.casefold().startswith(place.casefold()):
        return state.spot or place
    return ", ".join(filter(None, (place, state.spot)))


def keys_words(state: Desk, kept: KeysKept | None, names: Mapping[str, str]) -> str:
    """Say where the keys are: with whom the record says they are locked away, else the hook."""
    if kept is not None:
        who = names.get(kept.person, gettext("somebody who has left"))
        if kept.lock:
            text = gettext("keys locked away, {name} holds them (lock {lock})")
            return text.format(name=who, lock=kept.lock)
        return gettext("keys away, {name} holds them").format(name=who)
    return gettext("keys {hook}").format(hook=state.hook) if state.hook else ""


def where_words(state: Desk, kept: KeysKept | None) -> str:
    """Say in a few words where vehicle and keys are, for a row of a list."""
    keys = gettext("keys locked away") if kept is not None else ""
    hook = gettext("keys {hook}").format(hook=state.hook) if state.hook and not keys else ""
    return ", ".join(filter(None, (place_words(state), keys or hook)))


def _day(iso: str) -> str:
    return figures_text.day(date.fromisoformat(iso)) if iso else gettext("not said")


def _moved(said: Mapping[str, str]) -> str:
    told = []
    if "place" in said or "spot" in said:
        place = desk.PLACES.get(said.get("place", ""), "")
        told.append(
            ", ".join(filter(None, (gettext(place) if place else "", said.get("spot", ""))))
        )
    if "hook" in said:
        told.append(gettext("keys {hook}").format(hook=said["hook"] or NOTHING))
    return "; ".join(each or NOTHING for each in told)


def _facts(said: Mapping[str, str]) -> str:
    titles = {
        "payer": gettext("pays"),
        "warranty": gettext("warranty"),
        "insurer": gettext("insurer"),
        "claim": gettext("claim"),
        "recall": gettext("recall"),
    }
    codes = {**desk.PAYERS, **desk.WARRANTIES}
    told = []
    for name, title in titles.items():
        if name in said:
            text = gettext(codes[said[name]]) if said[name] in codes else said[name]
            told.append(f"{title}: {text or NOTHING}")
    return "; ".join(told)


def _promised(said: Mapping[str, str]) -> str:
    text = gettext("from {before} to {after}")
    told = [text.format(before=_day(said.get("before", "")), after=_day(said.get("after", "")))]
    why = desk.PROMISE_REASONS.get(said.get("why", ""), "")
    told += [gettext(why) if why else "", said.get("note", "")]
    was_told = said.get("told") == "yes"
    told.append(gettext("customer told") if was_told else gettext("customer not told"))
    return "; ".join(filter(None, told))


def _called(event: DeskEvent, said: Mapping[str, str]) -> str:
    told = [gettext(desk.CALLS.get(said.get("way", ""), "")), said.get("text", "")]
    if event.due_on is not None:
        due = gettext("next call {day}").format(day=figures_text.day(event.due_on))
        told.append(f"{due}: {said['next']}" if "next" in said else due)
    return "; ".join(filter(None, told))


def _text(said: Mapping[str, str], words: str) -> str:
    kind = gettext(desk.TEXTS.get(said.get("text", ""), ""))
    way = gettext(desk.WAYS_SENT.get(said.get("way", ""), ""))
    return "; ".join(filter(None, (f"{kind} ({way})", words)))


def _line(event: DeskEvent, about: Mapping[str, DeskEvent], names: Mapping[str, str]) -> str:
    """Say what an event says."""
    said = {**event.values, **event.words}
    if event.kind == desk.DONE:
        first = about.get(event.about)
        is_note = first is not None and first.kind == desk.NOTE
        words = "" if first is None else first.words.get("text", "")
        text = gettext("read: {text}") if is_note else gettext("answered: {text}")
        return text.format(text=words or NOTHING)
    if event.kind == desk.ASSIGNED:
        return names.get(said.get("person", ""), gettext("nobody"))
    made = {
        desk.MOVED: _moved,
        desk.FACTS: _facts,
        desk.PROMISED: _promised,
    }.get(event.kind)
    if made is not None:
        return made(said)
    if event.kind == desk.CALL:
        return _called(event, said)
    words = event.words.get("text", "")
    return _text(event.values, words) if event.kind == desk.TEXT else words


def lines_of(events: Iterable[DeskEvent], names: Mapping[str, str]) -> tuple[DeskLine, ...]:
    """Give the history of a desk in words, the newest first.

    Parameters
    ----------
    events : Iterable[DeskEvent]
        In the order in which they were written.
    names : Mapping[str, str]
        Short names by identifier.

    Returns
    -------
    tuple[DeskLine, ...]
        What was erased says so.
    """
    known = tuple(events)
    about = {each.key: each for each in known}
    erased, gone = gettext("words erased on request"), gettext("somebody who has left")
    return tuple(
        DeskLine(
            each.at,
            names.get(each.person, gone),
            gettext(desk.LINES.get(each.kind, each.kind)),
            "; ".join(filter(None, (_line(each, about, names), erased if each.erased else ""))),
        )
        for each in reversed(known)
    )
