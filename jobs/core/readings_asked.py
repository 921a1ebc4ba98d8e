"""What readings asked of the calculations, left for those who follow it by hand."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from jobs.core.asked import note
from jobs.core.section import Said
from packs.physics.absence import AbsenceResult
from packs.physics.decay import DecayResult, Sample
from packs.physics.instrument import Meter
from packs.physics.isolation import isolation_by_voltmeter
from packs.physics.string_insulation import SectionInsulation, SectionReadings, voltmeter_case

__all__ = ["note_absence", "note_discharge", "note_section", "note_settling"]

SETTLING: Final = "Settling at {point}, without shunt"
SETTLING_SHUNTED: Final = "Settling at {point}, with shunt"
THRESHOLD_V: Final = 60.0
"""What `decay` takes where no threshold is asked for [V]."""


def note_absence(point: str, fields: Mapping[str, Any], result: AbsenceResult) -> None:
    """Leave how the absence of voltage at a point came about."""
    note("absence", Said("Absence of voltage: {point}", {"point": point}), fields, result)


def note_discharge(
    samples: Sequence[Sample], meter: Meter, fields: Mapping[str, Any], result: DecayResult
) -> None:
    """Leave how the discharge was judged."""
    given = {"samples": samples, "meter": meter, **fields}
    note("decay", Said("Discharge of the link capacitors"), given, result)


def note_settling(
    place: tuple[str, str],
    rows: Sequence[Sequence[float]],
    meter: Meter,
    floor_v: float,
    end: DecayResult,
) -> None:
    """Leave how the end of a settling came about; a place is a point and its shunt."""
    about = SETTLING_SHUNTED if place[1] == "fitted" else SETTLING
    fields = {
        "samples": tuple(Sample(t_s=row[0], v=row[1]) for row in rows),
        "meter": meter,
        "gain_shared": False,
        "threshold_v": THRESHOLD_V,
        "floor_v": floor_v,
    }
    note("decay", Said(about, {"point": place[0]}), fields, end)


def note_section(name: str, section: SectionReadings, found: SectionInsulation) -> None:
    """Leave how the insulation of a section came about."""
    if found.method in {"none", "near_zero"} or found.insulation is None:
        return
    case = voltmeter_case(section) if found.method == "voltmeter" else None
    about = Said("Insulation of the section {section}", {"section": name})
    if case is not None:
        note("isolation", about, case, isolation_by_voltmeter(case))
    elif not found.insulation.contradictory:
        note("section", about, section, found)
