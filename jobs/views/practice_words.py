"""The sentences about a practice: what it was, how it went, what the vehicle really had."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from django.utils.translation import gettext, ngettext

from jobs.practice.room.faults import CHOICES, FAULTS
from workshop.figures_text import duration

__all__ = ["fault_words", "feedback", "revealed"]

_DANGERS: Final = {
    "before_hold": "Live parts were read before the hold point was passed ({count} ×).",
    "not_isolated": "The circuit was touched with the indicator before everything was switched off "
    "and locked ({count} ×).",
    "tester_on_string": "An insulation tester was put on the string with sense leads on "
    "({count} ×). That destroys what hangs on them.",
    "tester_unproven": "An insulation tester was put on a circuit that was not proven dead "
    "({count} ×).",
}
_FLAT: Final = {
    "low": "{label} had a flat battery and read a fifth too low.",
    "drift": "{label} had a flat battery: its readings fell and never stood still.",
    "proof": "{label} had a flat battery and failed its second proof.",
}


def fault_words(code: str) -> str:
    """Give the title of a kind of fault, or of what was asked for."""
    return gettext(FAULTS.get(code) or CHOICES.get(code, code))


def _names(names: list[str]) -> str:
    return ", ".join(names)


def revealed(score: Mapping[str, Any]) -> Iterator[str]:
    """Say what the vehicle really had."""
    if score["leaking"]:
        yield gettext("Leaking: module {names}.").format(names=_names(score["leaking"]))
    if score["leaking_parts"]:
        parts = _names(score["leaking_parts"])
        yield gettext("Leaking: {names}, not the pack.").format(names=parts)
    if not score["leaking"] and not score["leaking_parts"]:
        yield gettext("Nothing leaked. The fault did not show, which never means that it is safe.")
    if score["flat"]:
        yield gettext(_FLAT[score["flat_mode"]]).format(label=score["flat"])
    if score["lapsed"]:
        yield gettext("Out of date: {names}.").format(names=_names(score["lapsed"]))


def _in_order(score: Mapping[str, Any]) -> Iterator[str]:
    """Say whether it was made safe in order."""
    for code, count in score["dangers"].items():
        yield gettext(_DANGERS[code]).format(count=count)
    if not score["dangers"]:
        yield gettext("Made safe in order: nothing live was touched before its hold point.")
    refused = sum(score["refused"].values())
    if refused:
        yield ngettext(
            "A gate was asked too early {count} time. What is missing stands on the page.",
            "A gate was asked too early {count} times. What is missing stands on the page.",
            refused,
        ).format(count=refused)


def _named(score: Mapping[str, Any]) -> Iterator[str]:
    """Say whether what leaks was named."""
    if score["leaking"] and not score["missed"]:
        yield gettext("Right: module {names} named.").format(names=_names(score["leaking"]))
    if score["missed"]:
        yield gettext("Not named: module {names}.").format(names=_names(score["missed"]))
    if score["condemned"]:
        names = _names(score["condemned"])
        yield gettext("Sound, but named as leaking: module {names}.").format(names=names)
    parts, found = score["leaking_parts"], score["named_parts"]
    if parts:
        right = set(parts) <= set(found)
        text = "Right: {names} named." if right else "Not named: {names}."
        yield gettext(text).format(names=_names(parts))
    if not parts and not score["leaking"]:
        right = score["said"] == "not_found"
        text = "Right: said as not found." if right else "It was not said that nothing was found."
        yield gettext(text)


def _read(score: Mapping[str, Any]) -> Iterator[str]:
    """Say how it was read."""
    if score["needed"] is not None:
        text = "{count} readings pole to enclosure; following the proposals needs {needed}."
        yield gettext(text).format(count=score["readings"], needed=score["needed"])
    else:
        yield gettext("{count} readings pole to enclosure.").format(count=score["readings"])
    told = {
        "other_than_shown": "Typed otherwise than shown: {count}.",
        "other_place": "Read at another pole, or with the shunt otherwise, than written: {count}.",
        "not_looked": "Entered without an instrument: {count}.",
        "struck": "Values struck: {count}.",
        "flat_used": "Readings taken with the flat instrument that still stand: {count}.",
        "lapsed_picked": "Instruments out of date picked: {count}.",
    }
    for name, text in told.items():
        if score[name]:
            yield gettext(text).format(count=score[name])


def _help(score: Mapping[str, Any]) -> Iterator[str]:
    yield gettext("Steps signed: {count} of 8.").format(count=score["signed"])
    yield gettext("Left to the colleague: {taken}. Hints: {hints}.").format(
        taken=score["taken"], hints=score["hints"]
    )
    real, passed = duration(score["real_s"]), duration(score["passed_s"])
    yield gettext("It took {real}; {passed} of simulated time were let pass.").format(
        real=real, passed=passed
    )


def feedback(score: Mapping[str, Any]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Say how a practice went, under headings."""
    return (
        (gettext("Made safe"), tuple(_in_order(score))),
        (gettext("What leaks"), tuple(_named(score))),
        (gettext("Readings"), tuple(_read(score))),
        (gettext("Time and help"), tuple(_help(score))),
    )
