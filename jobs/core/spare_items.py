"""Matching a spare to its string and bringing it to the string's charge: what is asked.

Here: the items, made for one step. Not here: which of them are asked when (`spare_asked`), what
the values say (`spare_match`, `spare_charge`, `charge_watch`).
"""

from typing import Any, NamedTuple

from jobs.core.item import Choice, Item, SpareUsed, choice, reading, spare, table, tick

__all__ = ["RESISTOR", "SUPPLY", "SpareItems", "spare_items"]

RESISTOR, SUPPLY = "resistor", "supply"
GROUP = "Spare"


class SpareItems(NamedTuple):
    """Items of the spare that bear on match and charge; those of the string come first."""

    string_v: Item[float]
    string_c: Item[float]
    string_ah: Item[dict[str, float]]
    string_mohm: Item[dict[str, float]]
    spare: Item[SpareUsed]
    rest_h: Item[float]
    spare_c: Item[float]
    cell_v: Item[float]
    cell_u_mv: Item[float]
    means: Item[str]
    means_w: Item[float]
    means_ohm: Item[float]
    means_a: Item[float]
    safe: Item[bool]
    off: Item[bool]
    watch_c: Item[float]
    watch_v: Item[float]
    again_v: Item[float]
    same_end: Item[bool]


def _number(key: str, label: str, unit: str, low: float, high: float, **more: Any) -> Item[float]:
    return reading(key, label, unit=unit, low=low, high=high, **more)


def _string(slug: str) -> tuple[Item[float], Item[dict[str, float]], Item[dict[str, float]]]:
    """Make the items of the modules that stay."""
    known: dict[str, Any] = {
        "group": GROUP, "needed": False, "low": 0.01,
        "help": "From the vehicle's own record, or measured. Leave out what is not known.",
    }  # fmt: skip
    return (
        _number(f"{slug}.string_c", "Temperature of the modules that stay", "degC", -40, 80,
                group=GROUP, help="Voltages compare only within 3 K of the spare."),
        table(f"{slug}.string_ah", "Capacity of the modules that stay", unit="Ah", high=2000,
              **known),
        table(f"{slug}.string_mohm", "Resistance of the modules that stay", unit="mohm", high=1000,
              **known),
    )  # fmt: skip


def _means(
    slug: str, each: dict[str, Any]
) -> tuple[Item[str], Item[float], Item[float], Item[float]]:
    """Make the items that say what moves the charge."""
    kinds = (
        Choice(RESISTOR, "Resistor: discharges only"),
        Choice(SUPPLY, "Supply that charges, or load of constant current"),
    )
    return (
        choice(f"{slug}.means", "What moves the charge", kinds, **each),
        _number(f"{slug}.means_w", "Rated power of the resistor", "W", 1, 20000, **each,
                help="As marked, at its mounting. Half of what is marked lets it live."),
        _number(f"{slug}.means_ohm", "The resistor at hand", "ohm", 0.01, 100000,
                **{**each, "needed": False}, help="Leave it out to have one chosen."),
        _number(f"{slug}.means_a", "Current set", "A", 0.01, 500, **each,
                help="Within the maker's limit for one module."),
    )  # fmt: skip


def _watch(slug: str, each: dict[str, Any]) -> dict[str, Item[Any]]:
    """Make the items of a run: the cautions before it, the readings during it, its end."""
    free: dict[str, Any] = {**each, "needed": False, "on_paper": False}
    many: dict[str, Any] = {**free, "qualifiers": ("module", "reading")}
    ends: dict[str, Any] = {**free, "needed": True, "qualifiers": ("module", "round")}
    return {
        "safe": tick(
            f"{slug}.move_safe",
            "Before the current: somebody stays, every cell watched, thermal cut-off on",
            **free,
            help="Resistor rated above the module's voltage, very hot, on a base that cannot burn. "
            "Nothing is charged below 0 °C, no cell under its minimum.",
        ),
        "off": tick(f"{slug}.current_off", "Current switched off, leads taken off", **ends,
                    help="The rest begins with this tick, by the workshop's clock."),
        "watch_c": _number(f"{slug}.watch_c", "Warmest spot of the module", "degC", -40, 150,
                           **many, help="Smell, swelling, hissing: stop at once, everybody out."),
        "watch_v": _number(f"{slug}.watch_v", "Voltage at the terminals, current flowing", "V", 0,
                           1500, **many,
                           help="The first as soon as the current flows, then every few minutes."),
        "again_v": _number(f"{slug}.again_v", "Mean cell voltage, rested after the move", "V", 0.5,
                           5, **ends, help="With the meter and the range used before."),
    }  # fmt: skip


def spare_items(slug: str, string_v: Item[float]) -> SpareItems:
    """Make the items for matching spares, named after a step.

    Parameters
    ----------
    slug : str
        The step.
    string_v : Item[float]
        Where the string's median cell voltage is entered.

    Returns
    -------
    SpareItems
        The items; `spare_asked` gives those that apply.
    """
    each: dict[str, Any] = {"many": "each", "qualifiers": ("module",), "group": GROUP}
    string_c, string_ah, string_mohm = _string(slug)
    means, means_w, means_ohm, means_a = _means(slug, each)
    return SpareItems(
        string_v=string_v,
        string_c=string_c,
        string_ah=string_ah,
        string_mohm=string_mohm,
        spare=spare(f"{slug}.spare", "Spare", **each),
        rest_h=_number(f"{slug}.spare_rest_h", "Hours since current last flowed in the spare", "h",
                       0, 1e5, **each),
        spare_c=_number(f"{slug}.spare_c", "Temperature of the spare", "degC", -40, 80, **each),
        cell_v=_number(f"{slug}.spare_cell_v", "Mean cell voltage of the spare, rested", "V", 0.5,
                       5, **each, help="With the meter and the range used for the string."),
        cell_u_mv=_number(f"{slug}.cell_u_mv", "How far each cell voltage may be off", "mV", 0.1,
                          100, group=GROUP, needed=False,
                          help="By the meter's papers, for one cell. Left out, 2 mV are taken."),
        means=means,
        means_w=means_w,
        means_ohm=means_ohm,
        means_a=means_a,
        **_watch(slug, each),
        same_end=tick(
            f"{slug}.same_end",
            "Spare and string brought to the same end of the scale, charge counted",
            **each,
            help="The voltage hardly shows the charge here: equal voltage is no equal charge.",
        ),
    )  # fmt: skip
