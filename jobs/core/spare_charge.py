"""How a spare is brought to the string's charge, through `packs.physics.charge`.

Here: the case from the record, the answer, and its word against the limit. Not here: what is
asked (`spare_items`), what is read while charge moves (`charge_watch`), the calculation itself.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from jobs.core.asked import note
from jobs.core.item import qualifier_of
from jobs.core.record import Record
from jobs.core.section import Said
from jobs.core.spare_items import SUPPLY, SpareItems
from packs.definition import CURVES, PackDefinition
from packs.physics.charge import ChargeCase, ChargeMethod, ChargeResult, charge, rest_h
from packs.physics.charge_case import ChargeVerdict
from packs.physics.instrument import CalculationRefused, at_most, half_width_95
from packs.physics.ocv import curve_named

__all__ = [
    "MILLI",
    "USUAL_BLEED_A",
    "USUAL_C",
    "USUAL_U_MV",
    "SpareCharge",
    "charge_of",
    "curve_of",
    "method_of",
    "rest_needed_h",
]

MILLI = 1000.0
USUAL_U_MV, USUAL_C, USUAL_BLEED_A = 2.0, 25.0, 0.05
"""Taken where nothing is entered; said wherever they count. Shop defaults."""
_ONLY_THE_VERDICT = ChargeMethod(kind=SUPPLY, current_a=1.0)
"""The verdict does not hang on what moves the charge."""

Word = Literal["none", "ready", "move", "undecided", "flat", "no_curve", "refused"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareCharge:
    """A spare's charge against the string's.

    Attributes
    ----------
    word : str
        "none" until both voltages are known; "flat" and "no_curve": the voltage does not tell the
        charge, which is counted from the same end instead.
    verdict : str
        Of the difference against the limit: "pass", "fail", "undecided" or "none".
    low_mv, high_mv : float | None
        95 % interval of string less spare, for one cell [mV].
    case, result : ChargeCase | None, ChargeResult | None
        What was asked and answered, by the means at hand where they are known.
    planned : bool
        Whether hours, resistor and stop of `result` are those of the means at hand.
    refused, means_refused : str
        Why there is no answer at all, or none for these means.
    """

    word: Word = "none"
    verdict: str = "none"
    low_mv: float | None = None
    high_mv: float | None = None
    case: ChargeCase | None = None
    result: ChargeResult | None = None
    planned: bool = False
    refused: str = ""
    means_refused: str = ""


@lru_cache(maxsize=256)
def _kept(case: ChargeCase) -> tuple[ChargeResult | None, str]:
    """Calculate once for one case: a page asks for the same one many times."""
    try:
        return charge(case), ""
    except CalculationRefused as why:
        return None, why.message


def curve_of(pack: PackDefinition) -> str | None:
    """Give the curve of the pack, or the only one of its chemistry; None where it is not known."""
    known = CURVES[pack.chemistry]
    return pack.curve or (known[0] if len(known) == 1 else None)


def method_of(record: Record, items: SpareItems, name: str) -> ChargeMethod | None:
    """Give what moves the charge of a spare; None until it is known well enough."""
    at = qualifier_of(module=name)
    kind = record.get(items.means, at)
    ohm, power_w = record.get(items.means_ohm, at), record.get(items.means_w, at)
    current_a = record.get(items.means_a, at)
    if kind is None or (current_a is None if kind == SUPPLY else ohm is None and power_w is None):
        return None
    if kind == SUPPLY:
        return ChargeMethod(kind=kind, current_a=current_a)
    return ChargeMethod(kind=kind, ohm=ohm, max_w=power_w)


def rest_needed_h(record: Record, items: SpareItems, pack: PackDefinition, name: str) -> float:
    """Give how long a spare rests before its voltage counts [h].

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : SpareItems
        The step's items.
    pack : PackDefinition
        The pack.
    name : str
        The place for which the spare was picked.

    Returns
    -------
    float
        The longest of the shop's, the definition's, and that of its chemistry and temperature.
    """
    curve = curve_of(pack) or CURVES[pack.chemistry][0]
    cold_c = record.get(items.spare_c, qualifier_of(module=name))
    own_h = rest_h(curve_named(curve), USUAL_C if cold_c is None else cold_c)
    maker_h = 0.0 if pack.rest_h is None else pack.rest_h.value
    return max(record.limits.charge_rest_h.value, maker_h, own_h)


def _figure(data: Mapping[str, object], name: str, otherwise: float) -> float:
    value = data.get(name)
    known = isinstance(value, int | float | str) and value != "" and float(value) > 0.0
    return float(value) if known else otherwise  # type: ignore[arg-type]


def case_of(
    record: Record, items: SpareItems, pack: PackDefinition, name: str, cell_v: float
) -> ChargeCase | None:
    """Give the case for a spare at a rested voltage; None while the string or curve is unknown."""
    at, curve = qualifier_of(module=name), curve_of(pack)
    string_v, used = record.get(items.string_v), record.get(items.spare, at)
    if curve is None or string_v is None:
        return None
    data = {} if used is None else used.data
    spare_c, u_mv = record.get(items.spare_c, at), record.get(items.cell_u_mv)
    return ChargeCase(
        curve=curve,
        cells=pack.module_named(name).cells,
        parallel=pack.parallel_cells,
        capacity_ah=_figure(data, "capacity_ah", pack.capacity_ah.value),
        spare_cell_v=cell_v,
        target_cell_v=string_v,
        temperature_c=USUAL_C if spare_c is None else spare_c,
        module_resistance_ohm=_figure(data, "resistance_mohm", 0.0) / MILLI,
        voltage_u_v=(USUAL_U_MV if u_mv is None else u_mv) / MILLI,
        bleed_a=USUAL_BLEED_A if pack.bleed_a is None else pack.bleed_a.value,
        accept_mv_per_cell=record.limits.cell_difference_mv.value,
        method=_ONLY_THE_VERDICT,
    )


def _by_voltage(record: Record, items: SpareItems, cell_v: float) -> SpareCharge:
    """Compare the voltages alone."""
    string_v, u_mv = record.get(items.string_v), record.get(items.cell_u_mv) or USUAL_U_MV
    if string_v is None:
        return SpareCharge()
    difference_mv, half_mv = (string_v - cell_v) * MILLI, half_width_95([u_mv, u_mv])
    low_mv, high_mv = difference_mv - half_mv, difference_mv + half_mv
    found = SpareCharge(word="no_curve", low_mv=low_mv, high_mv=high_mv)
    return replace(found, verdict=_against(low_mv, high_mv, record))


def _against(low_mv: float, high_mv: float, record: Record) -> str:
    """Judge the size of a difference that lies between two ends."""
    high = max(abs(low_mv), abs(high_mv))
    low = 0.0 if low_mv <= 0.0 <= high_mv else min(abs(low_mv), abs(high_mv))
    return str(at_most(low, high, record.limits.cell_difference_mv.value + 1e-6))


def _is_flat(result: ChargeResult) -> bool:
    """Tell whether charge found the voltage to say nothing of the charge."""
    by_knee = result.knee is not None or any(each.code == "use_knee" for each in result.advice)
    return result.verdict is ChargeVerdict.UNDECIDED and by_knee


_VERDICTS: dict[ChargeVerdict, tuple[Word, str]] = {
    ChargeVerdict.READY: ("ready", "pass"),
    ChargeVerdict.MOVE: ("move", "fail"),
    ChargeVerdict.UNDECIDED: ("undecided", "undecided"),
}


def charge_of(
    record: Record, items: SpareItems, pack: PackDefinition, name: str, cell_v: float | None
) -> SpareCharge:
    """Judge the charge of a spare against that of the string.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : SpareItems
        The step's items.
    pack : PackDefinition
        The pack.
    name : str
        The place for which the spare was picked.
    cell_v : float | None
        Rested voltage of a cell of the spare [V].

    Returns
    -------
    SpareCharge
        Verdict, plan by the means at hand, or why there is none.

    Notes
    -----
    Ready is only what `charge` calls so: the whole 95 % interval of the difference lies within
    the limit. Where the curve is flat, or not known, the difference is judged alone and the
    charge has to be counted from the same end of the scale.
    """
    if cell_v is None:
        return SpareCharge()
    case = case_of(record, items, pack, name, cell_v)
    if case is None:
        return _by_voltage(record, items, cell_v)
    result, refused = _kept(case)
    if result is None:
        return SpareCharge(word="refused", case=case, refused=refused)
    about = Said("Charge of the spare for {module} against the string", {"module": name})
    note("charge", about, case, result)
    low_mv, high_mv = result.difference_mv_low, result.difference_mv_high
    word, verdict = _VERDICTS[result.verdict]
    if _is_flat(result):
        word, verdict = "flat", _against(low_mv, high_mv, record)
    found = SpareCharge(
        word=word, verdict=verdict, low_mv=low_mv, high_mv=high_mv, case=case, result=result
    )
    method = method_of(record, items, name)
    if word != "move" or method is None:
        return found
    case = replace(case, method=method)
    result, refused = _kept(case)
    if result is None:
        return replace(found, means_refused=refused)
    about = Said("Plan to move the charge of the spare for {module}", {"module": name})
    note("charge", about, case, result)
    return replace(found, case=case, result=result, planned=True)
