"""Which module or part leaks, by two independent kinds of reading.

Here: the readings of this step and the one before as one case for `localise`, and the modules'
own insulation against each other. Not here: the posterior (`packs.physics`), what blocks (`gate`).
"""

from dataclasses import dataclass
from functools import lru_cache
from statistics import median
from typing import Literal, cast

from jobs.core.item import Bounded
from jobs.core.record import Record
from jobs.steps.fault_localisation.items import (
    ALONE,
    LEAKING,
    LID_OFF,
    LINK_HOLD,
    LINK_OPENED,
    MODULE_OHM,
    OTHER_OHM,
    OUTCOME,
    READING,
    SLUG,
    pack_leaks,
    stopped,
    vehicle_leaks,
)
from jobs.steps.isolation_readings.assessment import isolation_limit, meter_of, pole_readings
from jobs.steps.isolation_readings.items import PACK
from packs.definition import PackDefinition
from packs.physics.instrument import CalculationRefused, Meter
from packs.physics.localise import localise
from packs.physics.localise_case import LocaliseCase, LocaliseResult, Module, Place, Reading

FEWEST_PEERS = 3
"""Other modules that must have been read before one stands out: shop default."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A reading as it went into the case: which entry, which pole, and whether it is known."""

    key: str
    qualifier: str
    reading: Reading
    known: bool
    unticked: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Peers:
    """The modules' own insulation: the one that stands out, and by how much."""

    suspect: str = ""
    ratio: float | None = None
    sound: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Localisation:
    """What this step found.

    `named` are the modules that `localise` names; `confirmed_by` the second kinds of evidence.
    """

    outcome: str
    leaking: tuple[str, ...]
    taken: tuple[Taken, ...]
    result: LocaliseResult | None
    refused: str
    named: tuple[str, ...]
    peers: Peers
    confirmed_by: tuple[str, ...]
    other_leaks: bool


def outcome(record: Record) -> str:
    """Give what the step ended in.

    Parameters
    ----------
    record : Record
        The job as it stands.

    Returns
    -------
    str
        "module", "pack_not_module", "vehicle_part", "declined", or "" while it is not known.
    """
    if stopped(record):
        return "declined"
    if pack_leaks(record):
        return record.get(OUTCOME) or ""
    return "vehicle_part" if vehicle_leaks(record) else ""


def leaking_modules(record: Record) -> tuple[str, ...]:
    """Give the modules that the step names as leaking, from pack negative.

    Parameters
    ----------
    record : Record
        The job as it stands.

    Returns
    -------
    tuple[str, ...]
        Empty unless the outcome is "module".
    """
    if record.pack is None or outcome(record) != "module":
        return ()
    ticked = {given.part("module") for given in record.all(LEAKING)}
    return tuple(module.name for module in record.pack.modules if module.name in ticked)


def _pole(text: str) -> Literal["pos", "neg"]:
    return "neg" if text == "neg" else "pos"


def _plug(pack: PackDefinition) -> tuple[str, ...]:
    """Name the link that is open in every reading because the disconnect is out."""
    return () if pack.disconnect.after_module is None else (pack.disconnect.after_module,)


def _from_closed(record: Record, pack: PackDefinition, shunt_ohm: float | None) -> list[Taken]:
    return [
        Taken(
            key=PACK.reading.key,
            qualifier="",
            known=True,
            reading=Reading(
                module=one.module,
                pole=_pole(one.pole),
                open_after=_plug(pack),
                shunt_ohm=shunt_ohm if one.shunt == "fitted" else None,
                volts=one.volts,
            ),
        )
        for one in pole_readings(record, PACK)
    ]


def _from_open(record: Record, pack: PackDefinition, shunt_ohm: float | None) -> list[Taken]:
    names = [module.name for module in pack.modules]
    ticked = {given.part("after") for given in record.all(LINK_OPENED)}
    found = []
    for given in record.all(READING):
        typed = {name for name in given.part("open").split("+") if name != ALONE}
        links = tuple(name for name in names if name in typed | set(_plug(pack)))
        known = given.part("module") in names and typed <= set(names[:-1])
        known &= given.part("pole") in {"pos", "neg"}
        known &= given.part("shunt") in {"none", "fitted"}
        fitted = given.part("shunt") == "fitted"
        taken = Reading(
            module=given.part("module"),
            pole=_pole(given.part("pole")),
            open_after=links,
            shunt_ohm=shunt_ohm if fitted else None,
            volts=given.value,
        )
        unticked = tuple(sorted(typed - ticked - set(_plug(pack)))) if known else ()
        found.append(
            Taken(
                key=READING.key,
                qualifier=given.entry.qualifier,
                reading=taken,
                known=known and not (fitted and shunt_ohm is None),
                unticked=unticked,
            )
        )
    return found


def _taken(record: Record) -> tuple[Taken, ...]:
    """Give the readings of both steps, oldest first."""
    if record.pack is None:
        return ()
    shunt = record.get(PACK.shunt)
    shunt_ohm = None if shunt is None else shunt.number("ohm") or None
    closed = _from_closed(record, record.pack, shunt_ohm)
    closed = [one for one in closed if shunt_ohm is not None or one.reading.shunt_ohm is None]
    return (*closed, *_from_open(record, record.pack, shunt_ohm))


@lru_cache(maxsize=32)
def _localised(
    pack: PackDefinition,
    cell_v: float,
    meter: Meter,
    shunt_tolerance_percent: float,
    readings: tuple[Reading, ...],
    where: tuple[tuple[Place, ...] | None, tuple[str, ...] | None],
) -> LocaliseResult:
    """Ask `localise` once for the same readings; gate, page and report ask for them again."""
    case = LocaliseCase(
        modules=tuple(Module(name=one.name, cells=one.cells) for one in pack.modules),
        cell_v=cell_v,
        meter=meter,
        readings=readings,
        shunt_tolerance_percent=shunt_tolerance_percent,
        reachable=where[0],
        openable=where[1],
    )
    return localise(case)


def _where(
    record: Record, pack: PackDefinition
) -> tuple[tuple[Place, ...] | None, tuple[str, ...] | None]:
    """Bound the proposals: the closed pack's points, then every pole, then every link."""
    if record.pack_open:
        return None, None if (SLUG, LINK_HOLD) in record.holds else _plug(pack)
    points = [one for one in pack.isolation_points if one.reachable == "closed"]
    return tuple(Place(module=one.module, pole=one.pole) for one in points), _plug(pack)


def _result(record: Record, taken: tuple[Taken, ...]) -> tuple[LocaliseResult | None, str]:
    pack, used, string_v = record.pack, record.get(PACK.meter), record.get(PACK.string_v)
    readings = tuple(one.reading for one in taken if one.known)
    if pack is None or used is None or not string_v or not readings:
        return None, ""
    shunt = record.get(PACK.shunt)
    tolerance = 1.0 if shunt is None else shunt.number("tolerance_percent", 1.0)
    cell_v = string_v / pack.cells_total
    try:
        where = _where(record, pack)
        return _localised(pack, cell_v, meter_of(used), tolerance, readings, where), ""
    except CalculationRefused as refused:
        return None, refused.message


def _named(result: LocaliseResult | None) -> tuple[str, ...]:
    if result is None or result.verdict != "named" or result.inconsistent:
        return ()
    return tuple(sorted(set(result.likely), key=result.likely.index))


def _peers(record: Record, limit_ohm: float) -> Peers:
    """Compare the modules' own insulation; bounds count only towards being sound."""
    values = {given.part("module"): given.value for given in record.all(MODULE_OHM)}
    read = {name: one for name, one in values.items() if one.comparator != "<" or one.value > 0}
    if not read:
        return Peers()
    lowest = min(read, key=lambda name: _order(read[name]))
    others = [one.value for name, one in read.items() if name != lowest and one.comparator != "<"]
    everyone = record.pack is not None and len(read) == len(record.pack.modules)
    sound = everyone and all(
        one.comparator != "<" and one.value >= limit_ohm for one in read.values()
    )
    if read[lowest].comparator == ">" or len(others) < FEWEST_PEERS:
        return Peers(sound=sound)
    own = max(read[lowest].value, 1e-3)
    return Peers(suspect=lowest, ratio=median(others) / own, sound=sound)


def _order(one: Bounded) -> tuple[float, str]:
    return one.value, one.comparator


def _confirmed(
    record: Record, result: LocaliseResult | None, named: tuple[str, ...], peers: Peers
) -> tuple[str, ...]:
    """Name the second kinds of evidence that agree with what is named."""
    by_links = bool(named) and result is not None and result.confirmed
    ratio = record.limits.suspect_ratio.value
    stands_out = peers.ratio is not None and peers.ratio >= ratio and named == (peers.suspect,)
    return (*(("links",) if by_links else ()), *(("insulation",) if stands_out else ()))


def assess(record: Record) -> Localisation:
    """Name the leaking module from all readings, and what confirms it."""
    taken = _taken(record) if pack_leaks(record) else ()
    result, refused = _result(record, taken)
    named = _named(result)
    working_v = 0.0 if record.pack is None else record.pack.working_v
    limit_ohm = isolation_limit(record).value * working_v
    peers = _peers(record, limit_ohm)
    other = record.get(OTHER_OHM)
    return Localisation(
        outcome=outcome(record),
        leaking=leaking_modules(record),
        taken=taken,
        result=result,
        refused=refused,
        named=named,
        peers=peers,
        confirmed_by=_confirmed(record, result, named, peers),
        other_leaks=other is not None and other.comparator != ">" and other.value < limit_ohm,
    )
