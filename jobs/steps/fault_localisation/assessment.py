"""Which module or part leaks, by two independent kinds of reading.

Here: what this step makes of the search. Not here: the search itself (`jobs.core.leak_search`),
what blocks (`gate`).
"""

from dataclasses import dataclass

from jobs.core.leak_history import agreeing, prior_used
from jobs.core.leak_search import (
    Peers,
    Prior,
    Searched,
    Where,
    peers_of,
    plug_links,
    search,
    taken_closed,
    taken_open,
)
from jobs.core.once import once_a_record
from jobs.core.record import Record
from jobs.steps.fault_localisation.items import (
    HISTORY,
    LEAKING,
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
from jobs.steps.isolation_readings.assessment import isolation_limit
from jobs.steps.isolation_readings.items import PACK
from packs.definition import PackDefinition
from packs.physics.localise_case import Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Localisation:
    """What this step found; `confirmed_by` are the second kinds of evidence that agree."""

    outcome: str
    leaking: tuple[str, ...]
    search: Searched
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


def _where(record: Record, pack: PackDefinition) -> Where:
    """Bound the proposals: the closed pack's points, then every pole, then every link."""
    if record.pack_open:
        return None, None if (SLUG, LINK_HOLD) in record.holds else plug_links(pack)
    points = [one for one in pack.isolation_points if one.reachable == "closed"]
    return tuple(Place(module=one.module, pole=one.pole) for one in points), plug_links(pack)


def searched(record: Record, prior: Prior = ()) -> Searched:
    """Ask for the leak where it is in the pack, by the readings and what makes one likelier."""
    if record.pack is None or not pack_leaks(record):
        return Searched()
    taken = (*taken_closed(record, PACK), *taken_open(record, PACK, READING, LINK_OPENED))
    return search(record, PACK, taken, _where(record, record.pack), prior)


def _confirmed(record: Record, found: Searched, peers: Peers) -> tuple[str, ...]:
    """Name the second kinds of evidence that agree with what is named, earlier jobs left out."""
    alone = searched(record) if record.has(HISTORY) else found
    by_links = agreeing(found, alone)
    ratio = record.limits.suspect_ratio.value
    far = peers.ratio is not None and peers.ratio >= ratio
    by_peers = far and found.named == alone.named == (peers.suspect,)
    return (*(("links",) if by_links else ()), *(("insulation",) if by_peers else ()))


@once_a_record
def assess(record: Record) -> Localisation:
    """Name the leaking module from all readings, and what confirms it."""
    found = searched(record, prior_used(record, HISTORY))
    working_v = 0.0 if record.pack is None else record.pack.working_v
    modules = 0 if record.pack is None else len(record.pack.modules)
    limit_ohm = isolation_limit(record).value * working_v
    own = {given.part("module"): given.value for given in record.all(MODULE_OHM)}
    peers = peers_of(own, modules, limit_ohm)
    other = record.get(OTHER_OHM)
    return Localisation(
        outcome=outcome(record),
        leaking=leaking_modules(record),
        search=found,
        peers=peers,
        confirmed_by=_confirmed(record, found, peers),
        other_leaks=other is not None and other.comparator != ">" and other.value < limit_ohm,
    )
