"""Readings at any pole of the string, with links open, as one case for `localise`.

Here: which readings can be used, what is wrong with them, the answer of `localise`, and the
modules' own insulation against each other. Not here: the posterior (`packs.physics`), what a
step asks and makes of the answer.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import median
from typing import Literal

from jobs.core.asked import note
from jobs.core.insulation import meter_of
from jobs.core.item import Bounded, Item, qualifier_of
from jobs.core.pack_side import PackSide
from jobs.core.pack_side_check import pole_readings
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.section import Said
from packs.definition import PackDefinition
from packs.physics.instrument import CalculationRefused, Meter
from packs.physics.localise import localise
from packs.physics.localise_case import LocaliseCase, LocaliseResult, Module, Place, Reading
from packs.words import told

__all__ = [
    "ALONE",
    "REASONS",
    "Peers",
    "Prior",
    "Searched",
    "Taken",
    "Where",
    "explains",
    "peers_of",
    "plug_links",
    "reading_blockers",
    "reading_in_words",
    "search",
    "taken_closed",
    "taken_open",
]

ALONE = "none"
"""Stands for no link open beside the disconnect in the qualifier of a reading."""
NAMED_AT = 0.95
"""Probability at which a module counts as named, as `localise` says it [1]."""
NO_INPUT = "The meter's input resistance is not known."
LEAST_OHM = 1.0
"""What a module's insulation counts as when the tester shows nothing [ohm]."""
FEWEST_PEERS = 3
"""Other modules that must have been read before one stands out: shop default."""

UNKNOWN = Reason(
    "localise_reading_unknown",
    "{reading}: no such module, pole, link or shunt in this pack. Strike it and enter it again.",
)
UNTICKED = Reason(
    "localise_link_unticked", "{reading}: the link after {after} is not recorded as opened."
)
REFUSED = Reason("localise_refused", "The readings cannot be used: {why}")
INCONSISTENT = Reason(
    "localise_inconsistent",
    "No leak explains all readings. Check this one first: {suspect}.",
)
REASONS = (UNKNOWN, UNTICKED, REFUSED, INCONSISTENT)

Where = tuple[tuple[Place, ...] | None, tuple[str, ...] | None]
"""Poles that can be reached and links that may be opened; None for all of them."""
Tools = tuple[float, tuple[Meter, float]]
"""Cell voltage [V]; meter and tolerance of the shunt [%]."""
Prior = tuple[tuple[str, float], ...]
"""Modules that are likelier to leak, by how many times [1]."""


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
class Searched:
    """What `localise` said of all usable readings, or why it refused them."""

    taken: tuple[Taken, ...] = ()
    result: LocaliseResult | None = None
    refused: str = ""
    named: tuple[str, ...] = ()


def reading_in_words(one: Taken | None) -> str:
    """Name a reading as it stands on its card; a dash for none."""
    if one is None:
        return "-"
    shunt = "without shunt" if one.reading.shunt_ohm is None else "with shunt"
    links = "+".join(one.reading.open_after) or "none"
    words = "{module} {pole}, links open after {links}, {shunt}, {volts:g} V"
    at = {"module": one.reading.module, "pole": one.reading.pole, "volts": one.reading.volts}
    return told(words, **at, links=links, shunt=shunt)


def plug_links(pack: PackDefinition) -> tuple[str, ...]:
    """Name the link that is open in every reading because the disconnect is out."""
    return () if pack.disconnect.after_module is None else (pack.disconnect.after_module,)


def _shunt_ohm(record: Record, side: PackSide) -> float | None:
    shunt = record.get(side.shunt)
    return None if shunt is None else shunt.number("ohm") or None


def _pole(text: str) -> Literal["pos", "neg"]:
    return "neg" if text == "neg" else "pos"


def taken_closed(record: Record, side: PackSide) -> tuple[Taken, ...]:
    """Give the readings at the isolation points as `localise` takes them.

    Parameters
    ----------
    record : Record
        The job as it stands.
    side : PackSide
        The items they were entered under.

    Returns
    -------
    tuple[Taken, ...]
        Empty without pack or meter.
    """
    pack, shunt_ohm = record.pack, _shunt_ohm(record, side)
    if pack is None:
        return ()
    return tuple(
        Taken(
            key=side.reading.key,
            qualifier=qualifier_of(point=one.point, shunt=one.shunt),
            known=one.shunt != "fitted" or shunt_ohm is not None,
            reading=Reading(
                module=one.module,
                pole=_pole(one.pole),
                open_after=plug_links(pack),
                shunt_ohm=shunt_ohm if one.shunt == "fitted" else None,
                volts=one.volts,
            ),
        )
        for one in pole_readings(record, side)
    )


def taken_open(
    record: Record, side: PackSide, readings: Item[float], links: Item[bool]
) -> tuple[Taken, ...]:
    """Give the readings at any pole, further links open, as `localise` takes them.

    Parameters
    ----------
    record : Record
        The job as it stands.
    side : PackSide
        Whose meter and shunt were used.
    readings : Item[float]
        Collection with the parts "module", "pole", "open" ("M3+M4" or "none") and "shunt" [V].
    links : Item[bool]
        Collection with the part "after": links recorded as opened.

    Returns
    -------
    tuple[Taken, ...]
        In the order they were entered; the disconnect's link is open in each of them.
    """
    pack = record.pack
    if pack is None:
        return ()
    shunt_ohm, names = _shunt_ohm(record, side), [module.name for module in pack.modules]
    always = set(plug_links(pack))
    ticked = {given.part("after") for given in record.all(links)} | always
    found = []
    for given in record.all(readings):
        parts = {name: given.part(name) for name in ("module", "pole", "open", "shunt")}
        typed = set(parts["open"].split("+")) - {ALONE}
        fitted = parts["shunt"] == "fitted"
        known = parts["module"] in names and parts["pole"] in {"pos", "neg"}
        known &= parts["shunt"] == "none" or (fitted and shunt_ohm is not None)
        known &= typed <= set(names[:-1])
        found.append(
            Taken(
                key=readings.key,
                qualifier=given.entry.qualifier,
                known=known,
                unticked=tuple(sorted(typed - ticked)) if known else (),
                reading=Reading(
                    module=parts["module"],
                    pole=_pole(parts["pole"]),
                    open_after=tuple(name for name in names if name in typed | always),
                    shunt_ohm=shunt_ohm if fitted else None,
                    volts=given.value,
                ),
            )
        )
    return tuple(found)


@lru_cache(maxsize=64)
def _localised(
    pack: PackDefinition, tools: Tools, readings: Sequence[Reading], where: Where,
    propose: bool = True, prior: Prior = (),  # noqa: FBT001, FBT002 - the cache wants plain arguments
) -> LocaliseResult:  # fmt: skip
    """Ask `localise` once for the same readings; gate, page and report ask for them again."""
    return localise(_case(pack, tools, readings, where, propose, prior))


def _case(
    pack: PackDefinition, tools: Tools, readings: Sequence[Reading], where: Where,
    propose: bool = True, prior: Prior = (),  # noqa: FBT001, FBT002 - those of the cache
) -> LocaliseCase:  # fmt: skip
    return LocaliseCase(
        modules=tuple(Module(name=one.name, cells=one.cells) for one in pack.modules),
        cell_v=tools[0],
        meter=tools[1][0],
        readings=tuple(readings),
        shunt_tolerance_percent=tools[1][1],
        reachable=where[0],
        openable=where[1],
        propose=propose,
        prior=dict(prior),
    )


def _tools(record: Record, side: PackSide) -> Tools | None:
    """Give cell voltage [V], meter and tolerance of the shunt [%]; None while one is missing."""
    pack, used, string_v = record.pack, record.get(side.meter), record.get(side.string_v)
    if pack is None or used is None or not string_v:
        return None
    shunt = record.get(side.shunt)
    tolerance_percent = 1.0 if shunt is None else shunt.number("tolerance_percent", 1.0)
    return string_v / pack.cells_total, (meter_of(used), tolerance_percent)


def explains(record: Record, side: PackSide, readings: Sequence[Reading]) -> bool:
    """Tell whether some leak explains these readings.

    Parameters
    ----------
    record : Record
        The job as it stands.
    side : PackSide
        Whose meter, shunt and string voltage were used.
    readings : Sequence[Reading]
        The readings as they may have been meant.

    Returns
    -------
    bool
        False also where they were refused.
    """
    tools = _tools(record, side)
    if tools is None or record.pack is None:
        return False
    try:
        found = _localised(record.pack, tools, tuple(readings), (None, None), False)  # noqa: FBT003
    except CalculationRefused:
        return False
    return not found.inconsistent


def search(
    record: Record, side: PackSide, taken: tuple[Taken, ...], where: Where, prior: Prior = ()
) -> Searched:
    """Ask which module leaks.

    Parameters
    ----------
    record : Record
        The job as it stands.
    side : PackSide
        Whose meter, shunt and string voltage were used.
    taken : tuple[Taken, ...]
        All readings; those that are not known are left out.
    where : Where
        Bounds of the proposals for next readings.
    prior : Prior
        What earlier jobs make likelier; empty for none.

    Returns
    -------
    Searched
        With no result while nothing was read, or where the readings were refused.
    """
    pack, tools = record.pack, _tools(record, side)
    readings = tuple(one.reading for one in taken if one.known)
    empty = Searched(taken=taken)
    if pack is None or tools is None or not readings:
        return empty
    if tools[1][0].input_ohm <= 0:
        return replace(empty, refused=NO_INPUT)
    try:
        result = _localised(pack, tools, readings, where, prior=prior)
        case = _case(pack, tools, readings, where, prior=prior)
        note("localise", Said("Where the leak is"), case, result)
    except CalculationRefused as refused:
        return replace(empty, refused=refused.message)
    named = result.verdict == "named" and not result.inconsistent
    names = [one.name for one in result.modules if named and one.probability >= NAMED_AT]
    return replace(empty, result=result, named=tuple(names))


def reading_blockers(searched: Searched, readings: str, links: str) -> tuple[Blocker, ...]:
    """Say what is wrong with single readings, and with all of them together.

    Parameters
    ----------
    searched : Searched
        The readings and the answer.
    readings, links : str
        Keys of the items of readings and of opened links.

    Returns
    -------
    tuple[Blocker, ...]
        An unknown pole, a link not recorded as opened, readings that no leak explains.
    """
    found: list[Blocker] = []
    for one in searched.taken:
        if not one.known:
            found.append(UNKNOWN(one.key, one.qualifier, reading=one.qualifier))
        found += [
            UNTICKED(links, f"after={name}", reading=reading_in_words(one), after=name)
            for name in one.unticked
        ]
    if searched.refused:
        found.append(REFUSED(readings, why=searched.refused))
    result = searched.result
    if result is not None and result.inconsistent:
        used = [one for one in searched.taken if one.known]
        suspect = None if result.suspect_reading is None else used[result.suspect_reading]
        key = readings if suspect is None else suspect.key
        qualifier = "" if suspect is None else suspect.qualifier
        found.append(INCONSISTENT(key, qualifier, suspect=reading_in_words(suspect)))
    return tuple(found)


def peers_of(values: Mapping[str, Bounded], modules: int, limit_ohm: float) -> Peers:
    """Compare the modules' own insulation.

    Parameters
    ----------
    values : Mapping[str, Bounded]
        Insulation of each module by itself [ohm].
    modules : int
        Modules of the pack.
    limit_ohm : float
        What a sound module reaches at least [ohm].

    Returns
    -------
    Peers
        The lowest of at least four, how many times it is below the median of the others, and
        whether every module was read and is sound.

    Notes
    -----
    A bound ("more than") counts with its number for the others, so the ratio is never overstated;
    it never makes a suspect.

    Examples
    --------
    >>> ohm = {name: Bounded(5.0e8, ">") for name in ("M1", "M2", "M3")} | {"M4": Bounded(2.0e5)}
    >>> peers_of(ohm, 4, 1.0e6)
    Peers(suspect='M4', ratio=2500.0, sound=False)
    """
    if not values:
        return Peers()
    lowest = min(values, key=lambda name: (values[name].value, values[name].comparator))
    others = [one.value for name, one in values.items() if name != lowest and one.comparator != "<"]
    sound = len(values) == modules and all(
        one.comparator != "<" and one.value >= limit_ohm for one in values.values()
    )
    if values[lowest].comparator == ">" or len(others) < FEWEST_PEERS:
        return Peers(sound=sound)
    return Peers(
        suspect=lowest, ratio=median(others) / max(values[lowest].value, LEAST_OHM), sound=sound
    )
