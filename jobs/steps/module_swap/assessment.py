"""What the readings of the module swap say: each spare against its place, and the links."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

from jobs.core.item import Bounded, Item, SpareUsed, qualifier_of
from jobs.core.link_check import LinkCheck, check_links
from jobs.core.links import LINK_HOLD
from jobs.core.once import once_a_record
from jobs.core.record import Record
from jobs.core.spare_check import SpareCheck, check_spare
from jobs.core.torque import TorqueCheck, check_torque
from jobs.steps.isolation_readings.assessment import isolation_limit
from jobs.steps.module_swap.items import (
    GAP,
    LINKS,
    QUARANTINE_CLASS,
    QUARANTINE_PLACE,
    REMOVED_SERIAL,
    REST_H,
    SLUG,
    SPARE,
    SPARE_CELL_V,
    SPARE_OHM,
    SPARES,
    TESTER,
    TIE,
    WATCH_STARTED,
    modules_out,
    undone,
)
from packs.definition import Figure, PackDefinition
from packs.physics.instrument import at_least
from packs.physics.insulation import inverse

APART = 1.5
"""Readings at both terminals further apart than this are not averaged [1]: shop default."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareInsulation:
    """Insulation of a spare against its share of the pack's limit [ohm]; `high` None: a bound."""

    ohm_low: float
    ohm_high: float | None
    limit_ohm: float
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SwappedModule:
    """One place in the string: what came out, what goes in, and how well it matches."""

    name: str
    removed_serial: str
    quarantine_place: str
    quarantine_class: str
    watch_started: bool
    spare: SpareUsed | None
    insulation: SpareInsulation | None
    rest_h: float | None
    cell_v: float | None
    difference_mv: float | None
    gaps_off: tuple[tuple[str, float], ...]
    gaps_missing: tuple[str, ...]
    tie: TorqueCheck | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchedModule(SwappedModule):
    """One place as gate version 3 judges it: match and charge by their calculations."""

    check: SpareCheck


@dataclass(frozen=True, slots=True, kw_only=True)
class SwapResult:
    """The swap as it stands."""

    modules: tuple[SwappedModule, ...] = ()
    rest_needed_h: float = 0.0
    difference_limit_mv: float = 0.0
    isolation_limit: Figure | None = None
    links: LinkCheck | None = None


def after_repair_limit(record: Record) -> Figure:
    """Give the isolation limit after repair: the maker's or the shop's, the stricter [ohm/V]."""
    shop = isolation_limit(record)
    if record.pack is None:
        return shop
    return max(record.pack.isolation_after_repair_ohm_per_v, shop, key=lambda f: f.value)


def spare_insulation(
    readings: Sequence[Bounded], accuracy_percent: float, limit_ohm: float
) -> SpareInsulation:
    """Judge the insulation of a spare from tester readings at both of its terminals.

    Parameters
    ----------
    readings : Sequence[Bounded]
        At the positive and at the negative terminal [ohm].
    accuracy_percent : float
        Of the tester [%].
    limit_ohm : float
        What the spare has to reach [ohm].

    Returns
    -------
    SpareInsulation
        Interval and verdict.

    Notes
    -----
    ``1/R = mean(1/R_pos, 1/R_neg)``: the module's own voltage adds to the tester's at one
    terminal and subtracts at the other. Further apart than that can bring them, the smaller one
    counts alone. "More than" stays a lower bound. Derived from the series circuit; no standard.

    Examples
    --------
    >>> both = [Bounded(9.1e4), Bounded(1.11e5)]
    >>> round(spare_insulation(both, 0.0, 5e4).ohm_low, -3)
    100000.0
    """
    share = accuracy_percent / 100.0
    small = min(readings, key=lambda r: (r.value, r.comparator == ">"))
    apart = max(r.value for r in readings) > APART * small.value
    used = [small] if apart else readings
    lows = [0.0 if r.comparator == "<" else r.value * (1.0 - share) for r in used]
    highs = [None if r.comparator == ">" else r.value * (1.0 + share) for r in used]
    count = len(used)
    low = inverse(sum(inverse(one) for one in lows) / count)
    most = sum(inverse(one) for one in highs) / count
    high = inverse(most) if most > 0.0 else None
    verdict = at_least(low, high, limit_ohm)
    return SpareInsulation(ohm_low=low, ohm_high=high, limit_ohm=limit_ohm, verdict=str(verdict))


def _insulation(record: Record, name: str, limit_ohm: float) -> SpareInsulation | None:
    tester = record.get(TESTER)
    poles = [record.get(SPARE_OHM, qualifier_of(module=name, pole=p)) for p in ("pos", "neg")]
    readings = [one for one in poles if one is not None]
    if tester is None or len(readings) != len(poles):
        return None
    return spare_insulation(readings, tester.number("accuracy_percent", 5.0), limit_ohm)


def _rest_h(record: Record, at: str) -> float | None:
    """Count the rest up to the voltage reading: hours entered, and the time since then."""
    rest, cell = record.given(REST_H, at), record.given(SPARE_CELL_V, at)
    if rest is None:
        return None
    until = rest.at if cell is None else cell.at
    return rest.value + max(0.0, (until - rest.at).total_seconds() / 3600.0)


def _gaps(
    record: Record, pack: PackDefinition, at: str
) -> tuple[tuple[tuple[str, float], ...], tuple[str, ...]]:
    stack, got = pack.stack, record.get(GAP, at) or {}
    if stack.gap_mm is None:
        return (), ()
    target_mm, allowed_mm = stack.gap_mm.value, (stack.gap_tolerance_mm or 0.0) + 1e-9
    off = tuple((point, mm) for point, mm in got.items() if abs(mm - target_mm) > allowed_mm)
    return off, tuple(point for point in stack.gap_points if point not in got)


def judged_before(record: Record) -> bool:
    """Tell whether the last link closed under a gate that asked for the same part alone.

    Parameters
    ----------
    record : Record
        The job as it stands.

    Returns
    -------
    bool
        True where the hold point that was passed kept a result without match and charge, and
        nothing of gate version 3 was entered since: such a job is shown as it was judged.
    """
    passed = record.holds.get((SLUG, LINK_HOLD))
    result = None if passed is None else passed.value.get("result")
    if not isinstance(result, dict) or record.has(SPARES.spare_c):
        return False
    modules = result.get("modules") or []
    return bool(modules) and all("check" not in module for module in modules)


def _text(record: Record, item: Item[str], at: str) -> str:
    return record.get(item, at) or ""


def _module(record: Record, pack: PackDefinition, name: str, limit_ohm: float) -> SwappedModule:
    at = qualifier_of(module=name)
    cell_v, string_v = record.get(SPARE_CELL_V, at), record.get(LINKS.cell_v)
    known = cell_v is not None and string_v is not None
    off, missing = _gaps(record, pack, at)
    bolts = pack.stack.tie_bolts
    return SwappedModule(
        name=name,
        removed_serial=_text(record, REMOVED_SERIAL, at),
        quarantine_place=_text(record, QUARANTINE_PLACE, at),
        quarantine_class=_text(record, QUARANTINE_CLASS, at),
        watch_started=record.get(WATCH_STARTED, at) is True,
        spare=record.get(SPARE, at),
        insulation=_insulation(record, name, limit_ohm),
        rest_h=_rest_h(record, at),
        cell_v=cell_v,
        difference_mv=((cell_v or 0.0) - (string_v or 0.0)) * 1000.0 if known else None,
        gaps_off=off,
        gaps_missing=missing,
        tie=None
        if bolts is None
        else check_torque(record, TIE, bolts, bolts.positions, {"module": name}),
    )


def _matched(record: Record, pack: PackDefinition, old: SwappedModule) -> MatchedModule:
    """Judge match and charge, and put the voltage in force in place of the first one."""
    out = frozenset(modules_out(record))
    check = check_spare(record, SPARES, pack, old.name, out)
    string_v, cell_v = record.get(LINKS.cell_v), check.state.cell_v
    known = cell_v is not None and string_v is not None
    kept = {field.name: getattr(old, field.name) for field in fields(old)}
    kept |= {
        "cell_v": cell_v,
        "rest_h": check.state.rest_h,
        "difference_mv": ((cell_v or 0.0) - (string_v or 0.0)) * 1000.0 if known else None,
    }
    return MatchedModule(**kept, check=check)


@once_a_record
def assess(record: Record) -> SwapResult:
    """Judge every module that is replaced, and the links.

    Parameters
    ----------
    record : Record
        The job as it stands.

    Returns
    -------
    SwapResult
        Empty while the pack or the leaking module is not known.

    Notes
    -----
    A spare has to reach ``limit x working voltage x number of modules``, since the leakages of all
    modules add (Ohm's law). Capacity and resistance are judged by `packs.physics.match`, the charge
    by `packs.physics.charge`; what was joined under an earlier gate stays as it was judged.
    """
    pack, limits = record.pack, record.limits
    if pack is None:
        return SwapResult()
    limit = after_repair_limit(record)
    limit_ohm = limit.value * pack.working_v * len(pack.modules)
    rest_h = max(limits.charge_rest_h.value, 0.0 if pack.rest_h is None else pack.rest_h.value)
    modules = [_module(record, pack, name, limit_ohm) for name in modules_out(record)]
    if not judged_before(record):
        modules = [_matched(record, pack, module) for module in modules]
    return SwapResult(
        modules=tuple(modules),
        rest_needed_h=rest_h,
        difference_limit_mv=limits.cell_difference_mv.value,
        isolation_limit=limit,
        links=check_links(record, LINKS, undone(record)),
    )
