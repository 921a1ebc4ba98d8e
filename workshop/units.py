"""In which units this shop reads and writes torque, pressure and distance.

Here: what a shop may choose, what is chosen now, and the conversion of what is shown. The record
keeps one unit whatever is chosen (``jobs.core.typed_units`` reads what is typed; a test holds the
two tables together). The choice is set for a request, or for one document, with `use`; without it
everything is shown as it is recorded.
"""

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any, Final

AS_RECORDED: Final = ""

CHOICES: Final = {
    "torque": (AS_RECORDED, "ftlb"),
    "pressure": (AS_RECORDED, "mbar", "psi"),
    "distance": (AS_RECORDED, "mi"),
}
"""What may be chosen for each."""

NAMES: Final = {"ftlb": "ft·lb", "mi": "mi", "mbar": "mbar", "psi": "psi", "Nm": "N·m"}
"""Units as data spells them, and how they are shown."""

FACTORS: Final[dict[str, dict[str, float]]] = {
    "Nm": {"ftlb": 1.3558179483314004},
    "Pa": {"mbar": 100.0, "psi": 6894.757293168361},
    "kPa": {"mbar": 0.1, "psi": 6.894757293168361},
    "km": {"mi": 1.609344},
}
"""Unit of the record to what a shop may show instead: how many of the record's unit it is."""

_SPELLED: Final = {"N·m": "Nm"}
_ENDINGS: Final = {"nm": "Nm", "pa": "Pa", "kpa": "kPa", "km": "km"}
_NUMBER: Final = r"[\u2212-]?[0-9]+(?:\.[0-9]+)?"
_FIELD: Final = re.compile(
    r"(?P<name>\{(?:\w+_)?(?P<end>nm|kpa|pa|km))(?::[^}]*)?\}"
    r"(?:(?P<gap>[ \u00a0])(?:Nm|N·m|kPa|Pa|km)\b)?"
)
_WRITTEN: Final = re.compile(
    rf"(?P<first>{_NUMBER})(?:(?P<to> to )(?P<last>{_NUMBER}))?[ \u00a0]"
    r"(?P<unit>N·m|Nm|kPa|Pa|km)\b(?!·)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """What a shop has chosen; empty means as recorded.

    Attributes
    ----------
    torque : {"", "ftlb"}
        N·m, or foot-pounds.
    pressure : {"", "mbar", "psi"}
        kPa and Pa, or one of the others.
    distance : {"", "mi"}
        Kilometres, or miles.
    """

    torque: str = AS_RECORDED
    pressure: str = AS_RECORDED
    distance: str = AS_RECORDED

    def of(self, unit: str) -> str:
        """Give the unit in which a number of that unit is shown and typed."""
        own = _SPELLED.get(unit, unit)
        chosen = {"Nm": self.torque, "Pa": self.pressure, "kPa": self.pressure, "km": self.distance}
        return chosen.get(own, AS_RECORDED) or own


_RECORDED: Final = Units()
_CHOSEN: ContextVar[Units] = ContextVar("units", default=_RECORDED)


@contextmanager
def use(units: Units) -> Iterator[None]:
    """Show everything in these units until the block ends."""
    before = _CHOSEN.set(units)
    try:
        yield
    finally:
        _CHOSEN.reset(before)


def shown_unit(unit: str) -> str:
    """Give the unit, as data spells it, in which a number of that unit is shown now.

    Examples
    --------
    >>> with use(Units(torque="ftlb")):
    ...     shown_unit("Nm"), shown_unit("N·m"), shown_unit("V")
    ('ftlb', 'ftlb', 'V')
    """
    return unit if _SPELLED.get(unit, unit) not in FACTORS else _CHOSEN.get().of(unit)


def is_converted(unit: str) -> bool:
    """Tell whether a number of that unit is shown in another one."""
    return shown_unit(unit) not in {unit, _SPELLED.get(unit, unit)}


def converted(number: float, unit: str) -> tuple[float, str]:
    """Give a number as it is shown now, with the name of its unit.

    Examples
    --------
    >>> with use(Units(pressure="mbar")):
    ...     converted(3000.0, "Pa"), converted(12.0, "V")
    ((30.0, 'mbar'), (12.0, 'V'))
    """
    if not is_converted(unit):
        return number, unit
    shown = shown_unit(unit)
    return number / FACTORS[_SPELLED.get(unit, unit)][shown], NAMES[shown]


def _round(number: float) -> float:
    return float(f"{number:.4g}")


def sentence(text: str) -> str:
    """Put the units shown now into a sentence whose fields say their unit by their ending.

    Examples
    --------
    >>> with use(Units(torque="ftlb")):
    ...     sentence("{got_nm:g} Nm of {label}")
    '{got_nm:g} ft·lb of {label}'
    """
    if _CHOSEN.get() == _RECORDED:
        return text

    def put(found: re.Match[str]) -> str:
        unit = _ENDINGS[found["end"]]
        if not is_converted(unit):
            return found[0]
        named = f"{found['gap']}{NAMES[shown_unit(unit)]}" if found["gap"] else ""
        return f"{found['name']}:g}}{named}"

    return _FIELD.sub(put, text)


def fields(params: Mapping[str, Any]) -> dict[str, Any]:
    """Convert the fields of a sentence: by the ending of their names, or by a field ``unit``.

    Examples
    --------
    >>> with use(Units(distance="mi")):
    ...     fields({"low": 0, "high": 1609.344, "typed": "5000", "unit": "km"})
    {'low': 0.0, 'high': 1000.0, 'typed': 3107.0, 'unit': 'mi'}
    """
    found = dict(params)
    if _CHOSEN.get() == _RECORDED:
        return found
    common = str(params.get("unit", ""))
    named = {"low", "high", "most", *(("typed",) if "low" in params else ())}
    for name, value in params.items():
        unit = common if name in named else _ENDINGS.get(name.rpartition("_")[2], "")
        if unit and is_converted(unit):
            found[name] = _converted_field(value, unit)
    if is_converted(common):
        found["unit"] = NAMES[shown_unit(common)]
    return found


def _converted_field(value: Any, unit: str) -> Any:
    try:
        return _round(converted(float(value), unit)[0])
    except (TypeError, ValueError):
        return value


def in_text(text: str) -> str:
    """Convert figures that stand written in a text of ours (a heading, a line of help).

    Examples
    --------
    >>> with use(Units(pressure="mbar")):
    ...     in_text("Start at 1500 to 2500 Pa, for 60 s or more.")
    'Start at 15 to 25 mbar, for 60 s or more.'
    """
    if _CHOSEN.get() == _RECORDED:
        return text

    def put(found: re.Match[str]) -> str:
        unit = found["unit"]
        if not is_converted(unit):
            return found[0]
        numbers = [found["first"], *([found["last"]] if found["to"] else [])]
        shown = [converted(float(each.replace("\u2212", "-")), unit) for each in numbers]
        return f"{(found['to'] or '').join(f'{_round(each):g}' for each, _ in shown)} {shown[0][1]}"

    return _WRITTEN.sub(put, text)
