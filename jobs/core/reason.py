"""Why something is not possible yet, as a code with parameters.

Here: `Reason` (a stable code and its English sentence), `Blocker` (a reason with its
parameters and the item it points at), the two refusals, and `say`, which makes the sentence
when it is shown. Not here: when a reason applies; that is in `flow` and in each step's gate.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from typing import Any

from packs.words import Told, translated

__all__ = ["Blocker", "InputRefused", "Param", "Reason", "say"]

Param = str | int | float
"""A parameter of a sentence: text, number, ISO time (name ends in ``_at``), person's id, or an
amount (name ends in ``_money``; its currency may follow it, the shop's own is meant otherwise)."""


@dataclass(frozen=True, slots=True)
class Blocker:
    """One point that is missing or failing.

    Attributes
    ----------
    code : str
        Stable code, stored with a refusal.
    text : str
        English sentence with named fields, the key of its translation.
    item : str
        Key of the item that mends it; empty when no item does.
    qualifier : str
        Which one of a collection.
    params : Mapping[str, Param]
        Values of the named fields.
    countersign : bool
        True when a qualified manager may accept it with a reason.
    """

    code: str
    text: str
    item: str = ""
    qualifier: str = ""
    params: Mapping[str, Param] = field(default_factory=dict)
    countersign: bool = False


@dataclass(frozen=True, slots=True)
class Reason:
    """A stable code and its sentence; calling it gives the blocker for one case."""

    code: str
    text: str
    countersign: bool = False

    def __call__(self, item: str = "", qualifier: str = "", /, **params: Param) -> Blocker:
        """Give the blocker of this reason for one item and its parameters."""
        return Blocker(self.code, self.text, item, qualifier, params, self.countersign)


class InputRefused(Exception):
    """What was typed cannot be taken; the person can mend it.

    Attributes
    ----------
    blocker : Blocker
        The code, its parameters and its sentence.
    """

    def __init__(self, blocker: Blocker) -> None:
        super().__init__(blocker.code)
        self.blocker = blocker


ROLES = frozenset({"role", "roles"})
"""Parameters that hold codes of roles."""
OUR_WORDS = frozenset(
    {"act", "advice", "cause", "guess", "item", "label", "origin", "pole_word", "qualification",
     "step", "title", "what", "when", "where", "why", "words"}
)  # fmt: skip
"""Parameters that hold words of ours, each with a translation of its own."""


def _is_day(text: str) -> bool:
    """Tell an ISO day from words that were put in its place already."""
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _when(moment: date) -> str:
    """Write a day with its year, a time without."""
    return moment.strftime("%d %b %H:%M" if isinstance(moment, datetime) else "%d %b %Y")


def _shown(
    name: str,
    value: Param,
    names: Mapping[str, str],
    zone: tzinfo,
    money: Callable[[Param], str],
    when: Callable[[date], str],
) -> Param:
    if name.endswith("_money"):
        return money(value)
    if name.endswith("_at") and isinstance(value, str):
        return when(datetime.fromisoformat(value).astimezone(zone))
    if name.endswith("_on") and isinstance(value, str) and _is_day(value):
        return when(date.fromisoformat(value))
    if name.endswith("person") and isinstance(value, str):
        return names.get(value, value)
    return value


def say(  # noqa: PLR0913 - each writes one kind of field
    text: str,
    params: Mapping[str, Param],
    *,
    names: Mapping[str, str],
    zone: tzinfo,
    translate: Callable[[str], str] = str,
    money: Callable[[Param], str] = str,
    when: Callable[[date], str] = _when,
    figures: Callable[[Mapping[str, Any]], dict[str, Any]] = dict,
) -> str:
    """Make the sentence of a reason in the reader's language.

    Parameters
    ----------
    text : str
        English sentence with named fields.
    params : Mapping[str, Param]
        Values of the fields; those of `OUR_WORDS` are translated, ``role`` and ``roles`` are
        codes, ``*_at`` is an ISO time, ``*_on`` a day, ``*person`` an identifier, ``*_money`` an
        amount.
    names : Mapping[str, str]
        Display name of each person by identifier.
    zone : tzinfo
        The workshop's time zone.
    translate : Callable[[str], str]
        Gives the sentence in the reader's language.
    money : Callable[[Param], str]
        Writes an amount, with the currency after it where that is known.
    when : Callable[[date], str]
        Writes a day (``*_on``), or a time (``*_at``) that stands in the zone.
    figures : Callable[[Mapping[str, Any]], dict[str, Any]]
        Brings figures to the units that are read.

    Returns
    -------
    str
        The sentence with its fields put in.

    Examples
    --------
    >>> from datetime import UTC
    >>> say("Wait until {until_at}.", {"until_at": "2026-03-02T09:42:00+00:00"}, names={}, zone=UTC)
    'Wait until 02 Mar 09:42.'
    >>> say("Signed by: {roles}.", {"roles": "front_desk, manager"}, names={}, zone=UTC)
    'Signed by: front desk, manager.'
    """
    if isinstance(text, Told):
        return translated(text, translate, figures)
    read = figures(params)
    shown = {name: _shown(name, value, names, zone, money, when) for name, value in read.items()}
    for name, ours in params.items():
        if isinstance(ours, Told) or (name in OUR_WORDS and isinstance(ours, str)):
            shown[name] = translated(ours, translate, figures)
    for name in ROLES & shown.keys():
        codes = str(shown[name]).split(", ")
        shown[name] = ", ".join(translate(code.replace("_", " ")) for code in codes)
    return translate(text).format(**shown)
