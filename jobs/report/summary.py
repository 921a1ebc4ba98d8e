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
    limit_ohm_per_v : float
        The limit after a repair [ohm/V].
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
    limit_ohm_per_v: float
    watch: tuple[Said, ...]


PASSED: Box = (Said("It passed every check we made"), Said("readings and limits on page 2"))
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
RETURN = Said("Come back for an isolation check within 4 weeks or 1 000 km.")
TOW = Said("Do not switch the vehicle on and do not charge it. Have it towed.")


def _module_words(record: Record, modules: tuple[str, ...]) -> Box:
    count = 0 if record.pack is None else len(record.pack.modules)
    if len(modules) == 1:
        answer = Said("Module {name} of {count} leaked", {"name": modules[0], "count": count})
    else:
        names = ", ".join(modules)
        answer = Said("Modules {names} of {count} leaked", {"names": names, "count": count})
    return answer, Said("current found its way from inside the battery to the body")


def _finished(record: Record, what: str, modules: tuple[str, ...]) -> tuple[Said, Box, Box]:
    if what == "module":
        headline = (
            "The battery leaked to the car body in one module. That module has been replaced, "
            "and every check afterwards was passed."
            if len(modules) == 1
            else "The battery leaked to the car body in several modules. They have been "
            "replaced, and every check afterwards was passed."
        )
        did = (Said("Module replaced"), Said("matched in type and brought to the same charge"))
        return Said(headline), _module_words(record, modules), did
    if what == "pack_not_module":
        return (
            Said(
                "The battery leaked to the car body in a part beside its modules. That part has "
                "been replaced, and every check afterwards was passed."
            ),
            (Said("A part inside the battery leaked"), Said("the modules themselves did not")),
            (Said("Part replaced"), Said("the battery was opened and closed again")),
        )
    return (
        Said(
            "The leak was not in the battery but in another high-voltage part. That part has been "
            "replaced, and every check afterwards was passed."
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


def _after(record: Record, results: Mapping[str, Any]) -> tuple[float | None, float]:
    """Give the worst isolation after the repair of every side that leaked, and its limit."""
    reassembly, road = results["reassembly"], results["road_test"]
    left: list[float | None] = []
    limit = record.limits.isolation_ohm_per_v.value
    if isinstance(reassembly, Reassembly):
        limit = reassembly.limit.value
        closed, opened = reassembly.after_lid.ohm_per_v, reassembly.before_lid.ohm_per_v
        left.append(opened if closed is None else closed)
    if isinstance(road, RoadTest) and road.vehicle is not None:
        left.append(road.vehicle.ohm_per_v)
    return min((each for each in left if each is not None), default=None), limit


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
        fit = PASSED
    else:
        headline = Said("Work on this vehicle is not finished. This is how far it has come.")
        wrong = _module_words(record, modules) if modules else (Said("Being looked for"), NOTHING)
        did, fit = (Said("See the pages that follow"), NOTHING), UNFINISHED
    watch = (RETURN, WARNING) if released and not ends else (TOW,) if ends == "declined" else ()
    return Summary(
        headline=headline,
        wrong=wrong,
        did=did,
        fit=fit,
        modules=modules,
        before_ohm_per_v=_before(results),
        after_ohm_per_v=after,
        limit_ohm_per_v=limit,
        watch=(*watch, WARNING) if ends == "not_found" else watch,
    )
