"""Guesses the unit in which a refused number was given.

Here: from the unit in a field's name and its bounds, whether another unit of the same kind would
fit. Not here: the bounds themselves, nor numbers that are within them.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

KELVIN = 273.15

OTHER_UNITS: dict[str, tuple[tuple[str, float], ...]] = {
    "v": (("mV", 1e-3), ("kV", 1e3), ("uV", 1e-6)),
    "volts": (("mV", 1e-3), ("kV", 1e3), ("uV", 1e-6)),
    "mv": (("V", 1e3), ("uV", 1e-3)),
    "ohm": (("Mohm", 1e6), ("kohm", 1e3), ("mohm", 1e-3), ("Gohm", 1e9)),
    "mohm": (("ohm", 1e3), ("uohm", 1e-3)),
    "a": (("mA", 1e-3), ("kA", 1e3)),
    "ah": (("mAh", 1e-3),),
    "w": (("mW", 1e-3), ("kW", 1e3)),
    "pa": (("hPa, that is mbar", 1e2), ("kPa", 1e3), ("bar", 1e5), ("mPa", 1e-3)),
    "l": (("ml", 1e-3), ("cubic metres", 1e3)),
    "s": (("ms", 1e-3),),
}
"""By the last word of a field's name: units and what one of them is in the unit of the field."""


def unit_hint(schema: Mapping[str, Any], path: Sequence[str | int], value: object) -> str:
    """Say in which unit a number that was refused may have been given.

    Parameters
    ----------
    schema : Mapping[str, Any]
        JSON Schema of the input.
    path : Sequence[str | int]
        Steps to the number.
    value : object
        What was given.

    Returns
    -------
    hint : str
        A clause to add to the refusal; empty when no other unit fits.

    Examples
    --------
    >>> schema = {"properties": {"cell_v": {"minimum": 0.1, "maximum": 10.0}}}
    >>> unit_hint(schema, ["cell_v"], 3520)
    '; was it given in mV?'
    >>> unit_hint(schema, ["cell_v"], 1e9)
    ''
    """
    names = [step for step in path if isinstance(step, str)]
    if not names or isinstance(value, bool) or not isinstance(value, int | float):
        return ""
    suffix = names[-1].rpartition("_")[2].lower()
    for low, high in _bounds(schema, schema, path):
        if suffix == "c" and low < value - KELVIN < high:
            return "; was it given in kelvin?"
        for unit, factor in OTHER_UNITS.get(suffix, ()):
            if low < value * factor < high:
                return f"; was it given in {unit}?"
    return ""


def _bounds(
    root: Mapping[str, Any], place: Mapping[str, Any], path: Sequence[str | int]
) -> Iterator[tuple[float, float]]:
    """Find the smallest and largest number that a schema takes at a path."""
    if "$ref" in place:
        place = root["$defs"][place["$ref"].rpartition("/")[2]]
    for kind in ("anyOf", "oneOf"):
        for each in place.get(kind, ()):
            yield from _bounds(root, each, path)
    if not path:
        if "minimum" in place and "maximum" in place:
            yield place["minimum"], place["maximum"]
        return
    step, rest = path[0], path[1:]
    inner = place.get("items") if isinstance(step, int) else place.get("properties", {}).get(step)
    if isinstance(inner, Mapping):
        yield from _bounds(root, inner, rest)
