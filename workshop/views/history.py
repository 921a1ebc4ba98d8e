"""What was done to a row of a register, in words: who, when, what, and the file that came along."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as later

from workshop import figures_text, languages, people
from workshop.forms.shop import DISTANCES, PRESSURES, TORQUES
from workshop.registers import EventInfo

WHAT: Final = {
    "added": later("Entered"),
    "changed": later("Changed"),
    "changed_hands": later("Changed hands"),
    "corrected": later("Corrected"),
    "logo_set": later("Logo set"),
    "logo_taken_away": later("Logo taken away"),
    "reset": later("Put back to the default"),
    "enrolled": later("Enrolled"),
    "erased": later("Personal data erased"),
    "pin_cleared": later("PIN taken out of use"),
    "pin_set": later("PIN set"),
    "password_set": later("Password set"),
    "password_cleared": later("Password taken out of use"),
    "qualified": later("Qualification entered"),
    "retired": later("Left the shop"),
    "revoked": later("Turned away"),
    "returned": later("Came back"),
    "tested": later("Tested or calibrated"),
    "unlocked": later("PIN unlocked"),
    "unqualified": later("Qualification taken away"),
    "withdrawn": later("Withdrawn from use"),
}
"""Kind of event to its title."""

DAYS: Final = {
    "tested_on": later("tested {day}"),
    "due_on": later("due {day}"),
    "expires_on": later("valid until {day}"),
}

UNIT_CHOICES: Final[dict[str, dict[str, Any]]] = {
    "torque_unit": dict(TORQUES),
    "pressure_unit": dict(PRESSURES),
    "distance_unit": dict(DISTANCES),
}

Address = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Change:
    """One value that was corrected, as the filter for ratings takes it."""

    title: str
    name: str
    before: Mapping[str, Any]
    after: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One event in words."""

    at: datetime
    by: str
    title: str
    lines: tuple[str, ...]
    changes: tuple[Change, ...]
    file: str
    is_picture: bool


def _lines(values: Mapping[str, Any], names: Mapping[str, str]) -> Iterator[str]:
    """Say what an event was about."""
    if "code" in values:
        yield gettext(people.QUALIFICATIONS.get(values["code"], values["code"]))
    for key, words in DAYS.items():
        if values.get(key):
            day = figures_text.day(date.fromisoformat(values[key]))
            yield gettext(words).format(day=day)
    if values.get("certificate"):
        yield gettext("certificate {number}").format(number=values["certificate"])
    if "before" in values:
        nobody = gettext("nobody")
        yield gettext("from {before} to {after}").format(
            before=names.get(values["before"], nobody), after=names.get(values["customer"], nobody)
        )
    if values.get("fields"):
        yield ", ".join(names.get(each, each) for each in values["fields"])
    if values.get("why"):
        yield values["why"]


def _changes(values: Mapping[str, Any], names: Mapping[str, str]) -> Iterator[Change]:
    for name, (before, after) in values.get("changes", {}).items():
        old, new = (_chosen(name, each) for each in (before, after))
        yield Change(names.get(name, name), name, {name: old}, {name: new})


def _chosen(name: str, value: Any) -> Any:
    """Say what was chosen from a list as the list says it."""
    if name == "role":
        return gettext(people.ROLES.get(value, value))
    if name == "language":
        return dict(languages.choices()).get(value, gettext("as the workshop"))
    return str(UNIT_CHOICES[name].get(value, value)) if name in UNIT_CHOICES else value


def told(
    events: Iterable[EventInfo], names: Mapping[str, str], address: Address | None = None
) -> tuple[Told, ...]:
    """Put events into words.

    Parameters
    ----------
    events : Iterable of EventInfo
        As ``queries.history`` gives them.
    names : Mapping
        What a field is called, and customers by identifier.
    address : Callable, optional
        Gives the address of a certificate by its digest.

    Returns
    -------
    tuple of Told
        In the same order.
    """
    return tuple(
        Told(
            at=event.at,
            by=event.by,
            title=gettext(WHAT.get(event.kind, event.kind)),
            lines=tuple(_lines(event.values, names)),
            changes=tuple(_changes(event.values, names)),
            file=address(event.sha256) if address and event.sha256 else "",
            is_picture=event.media_type.startswith("image/"),
        )
        for event in events
    )


def labels(*forms: Any) -> dict[str, str]:
    """Give what the fields of forms are called."""
    return {name: str(field.label) for form in forms for name, field in form.base_fields.items()}
