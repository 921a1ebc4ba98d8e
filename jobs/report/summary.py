"""The answer on the first page of a report: one sentence, three boxes, what to watch.

Here: the sentences for every way a job can end. They promise nothing that was not checked:
never "safe", never "like new". Not here: the proof behind them (each step's section).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from jobs.core.record import Record
from jobs.core.section import Said
from jobs.steps.fault_localisation.assessment import leaking_modules, outcome
from jobs.steps.isolation_readings.assessment import Isolation
from jobs.steps.reassembly.assessment import Reassembly
from jobs.steps.road_test.assessment import RoadTest
from jobs.steps.road_test.items import REVISIT, REVISIT_ON
from packs.definition import Figure

__all__ = ["Summary", "summary_of"]

Box = tuple[Said, Said]
"""Answer and remark of one box."""

NOTHING = Said("")


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """What the first page says.

    Attributes
    ----------
    headline : Said
        The answer in one sentence.
    wrong, did, fit : Box
        Answer and remark of the three boxes.
    modules : tuple[str, ...]
        Modules that leaked.
    before_ohm_per_v, after_ohm_per_v : float | None
        Isolation found and left behind [ohm/V]; None where not read.
    limit : Figure
        The limit of what was left behind, without a repair of what was found, with its kind and
        source [ohm/V].
    watch : tuple[Said, ...]
        What the customer has to do now.
    """

    headline: Said
    wrong: Box
    did: Box
    fit: Box
    modules: tuple[str, ...]
    before_ohm_per_v: float | None
    after_ohm_per_v: float | None
    limit: Figure
    watch: tuple[Said, ...]


PASSED: Box = (Said("It passed every check we made"), Said("readings and limits on page 2"))
ACCEPTED = "It passed every check but {count} of our own, which our manager accepted with a reason"
UNFINISHED: Box = (Said("Not yet: work goes on"), Said("no release has been signed"))
STANDS: Box = (
    Said("No. It stays switched off"),
    Said("it leaves labelled, by tow only"),
)
UNKNOWN: Box = (
    Said("We cannot say"),
    Said("the fault did not show; that does not mean it is gone"),
)

WARNING = Said("If the warning lamp returns: stop, switch off, do not charge, call us.")
RETURN = Said("Come back for an isolation check within 4 weeks or 1\u00a0000\u00a0km.")
BOOKED = "Come back on {back_on}: we read the isolation again, which belongs to this repair."
AGREED = "Come back as agreed ({when}): we read the isolation again, which belongs to this repair."
READ_AGAIN = Said(
    "A day after the drive we read the isolation again; it kept its limit. Come back for a further "
    "check within 4 weeks or 1\u00a0000\u00a0km."
)
FIT = Said(
    "Before the vehicle is switched on with this battery, have its isolation read in the vehicle, "
    "and again within 4 weeks or 1\u00a0000\u00a0km."
)
TOW = Said("Do not switch the vehicle on and do not charge it. Have it towed.")


def _module_words(record: Record, modules: tuple[str, ...]) -> Box:
    count = 0 if record.pack is None else len(record.pack.modules)
    if len(modules) == 1:
        answer = Said("Module {name} of {count} leaked", {"name": modules[0], "count": count})
    else:
        names = ", ".join(modules)
        answer = Said("Modules {names} of {count} leaked", {"names": names, "count": count})
    return answer, Said("current found its way from inside the battery to the metal around it")


def _finished(record: Record, what: str, modules: tuple[str, ...]) -> tuple[Said, Box, Box]:
    if what == "module":
        headline = (
            "The battery leaked to the metal around it in one module. That module has been "
            "replaced, and the battery was checked afterwards."
            if len(modules) == 1
            else "The battery leaked to the metal around it in several modules. They have been "
            "replaced, and the battery was checked afterwards."
        )
        did = "Module replaced" if len(modules) == 1 else "Modules replaced"
        same = Said("by the same kind, at the charge of the other modules")
        return Said(headline), _module_words(record, modules), (Said(did), same)
    if what == "pack_not_module":
        return (
            Said(
                "The battery leaked to the metal around it in a part beside its modules. That part "
                "has been replaced, and the battery was checked afterwards."
            ),
            (Said("A part inside the battery leaked"), Said("the modules themselves did not")),
            (Said("Part replaced"), Said("the battery was opened and closed again")),
        )
    return (
        Said(
            "The leak was not in the battery but in another high-voltage part. That part has been "
            "replaced, and the vehicle was checked afterwards."
        ),
        (Said("A part of the vehicle leaked"), Said("the battery was not opened")),
        (Said("Part replaced"), Said("the battery stayed closed")),
    )


def _stopped(ends: str) -> tuple[Said, Box, Box, Box]:
    if ends == "declined":
        return (
            Said("The repair was declined. The vehicle leaves switched off, by tow only."),
            (Said("The high voltage leaks to the body"), Said("what we found follows")),
            (Said("We measured and stopped"), Said("nothing was repaired")),
            STANDS,
        )
    return (
        Said("We looked for the leak and could not make it show. The cause is not known."),
        (Said("Not found"), Said("measured again wet, warm, loaded and a day later")),
        (Said("We measured"), Said("nothing was repaired")),
        UNKNOWN,
    )


def _before(results: Mapping[str, Any]) -> float | None:
    isolation = results["isolation_readings"]
    if not isinstance(isolation, Isolation):
        return None
    sides = (isolation.pack, isolation.vehicle)
    worst = [side.ohm_per_v for side in sides if side.ohm_per_v is not None]
    return min(worst, default=None)


def _after(record: Record, results: Mapping[str, Any]) -> tuple[float | None, Figure]:
    """Give the worst isolation after the repair of every side that leaked, and its limit."""
    reassembly, road = results["reassembly"], results["road_test"]
    isolation = results["isolation_readings"]
    left: list[float | None] = []
    limit = record.limits.isolation_ohm_per_v
    if isinstance(isolation, Isolation):
        # What was only found is held to what it was judged by; a repair to its own limit.
        limit = isolation.limit
    if isinstance(reassembly, Reassembly):
        closed, opened = reassembly.after_lid.ohm_per_v, reassembly.before_lid.ohm_per_v
        left.append(opened if closed is None else closed)
        limit = limit if left == [None] else reassembly.limit
    if isinstance(road, RoadTest) and road.vehicle is not None:
        left.append(road.vehicle.ohm_per_v)
        limit = limit if isinstance(reassembly, Reassembly) and record.lid_was_off else road.limit
    return min((each for each in left if each is not None), default=None), limit


def _passed(record: Record) -> Box:
    """Say that all was passed; what a manager accepted is never said to have passed."""
    if not record.countersigned:
        return PASSED
    count = len({(e.value["item"], e.value.get("code")) for e in record.countersigned})
    return Said(ACCEPTED, {"count": count}), PASSED[1]


def _come_back(record: Record, road: Any) -> Said:
    """Say when to come back: as booked, after the reading a day later, or in general."""
    if record.signatures["road_test"].outcome == "not_needed":
        return FIT
    day, words = record.get(REVISIT_ON), record.get(REVISIT)
    if day is not None:
        return Said(BOOKED, {"back_on": day.isoformat()})
    if words is not None:
        return Said(AGREED, {"when": words.rstrip(".")})
    again = road.after_24h if isinstance(road, RoadTest) else None
    return READ_AGAIN if again is not None and again.verdict == "pass" else RETURN


def _wrong_so_far(record: Record, what: str, modules: tuple[str, ...]) -> Box:
    """Say what was found up to now, while the work goes on."""
    known = modules or what in {"pack_not_module", "vehicle_part"}
    return _finished(record, what, modules)[1] if known else (Said("Being looked for"), NOTHING)


def summary_of(record: Record, results: Mapping[str, Any]) -> Summary:
    """Say what the first page answers.

    Parameters
    ----------
    record : Record
        The job as it stands.
    results : Mapping[str, Any]
        Result of each step's assessment, by slug.

    Returns
    -------
    Summary
        The answer, and what the two pictures show.
    """
    what, modules = outcome(record), leaking_modules(record)
    ends = next((each.ends for each in record.signatures.values() if each.ends), "")
    released = "road_test" in record.signatures
    after, limit = _after(record, results)
    if ends:
        headline, wrong, did, fit = _stopped(ends)
    elif released:
        headline, wrong, did = _finished(record, what, modules)
        fit = _passed(record)
    else:
        headline = Said("Interim report: the work is not finished. This is how far it has come.")
        wrong = _wrong_so_far(record, what, modules)
        begun = Said("Stands below") if record.signatures else Said("No step is signed yet")
        did, fit = (begun, NOTHING), UNFINISHED
    watch: tuple[Said, ...] = (TOW,) if ends == "declined" else ()
    if released and not ends:
        watch = (_come_back(record, results["road_test"]), WARNING)
    return Summary(
        headline=headline,
        wrong=wrong,
        did=did,
        fit=fit,
        modules=modules,
        before_ohm_per_v=_before(results),
        after_ohm_per_v=after,
        limit=limit,
        watch=(*watch, WARNING) if ends == "not_found" else watch,
    )
