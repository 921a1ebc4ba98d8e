"""What the readings of a round say: dead, live or void, since when it is switched off, discharge.

Pure and total. Not here: what stands against writing the proof (`gate`).
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from jobs.core.item import Bounded, EquipmentUsed, qualifier_of
from jobs.core.once import once_a_record
from jobs.core.readings_asked import note_absence, note_discharge
from jobs.core.record import Given, Record
from jobs.steps.de_energise_check.items import (
    AFTER,
    BEFORE,
    DEAD,
    DISCHARGE,
    INDICATOR,
    METER,
    UNIT,
    isolating_items,
    proof_points,
    round_now,
    slow_codes,
    undone_seq,
)
from packs.physics.absence import PAIRS, AbsenceResult, DeadReading, Proof, absence
from packs.physics.decay import DecayResult, Sample, decay
from packs.physics.instrument import Accuracy, CalculationRefused, Message, Meter


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One point of the circuit: the verdict, the worst reading [V], and why."""

    name: str
    verdict: str
    worst_v: float | None = None
    worst_v_high: float | None = None
    worst_between: str = ""
    reasons: tuple[Message, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Discharge:
    """What the discharge series shows: last reading [V], seconds left [s], or why not judged."""

    reached: bool
    last_v: float
    left_s: float | None = None
    fault: str = ""
    decay: DecayResult | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One round of readings: every point, since when it is switched off, and the discharge."""

    name: str
    verdict: str
    points: tuple[Point, ...]
    indicator: str
    unit: str
    isolated_at: datetime | None
    wait_until: datetime | None
    discharge: Discharge | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DeEnergised:
    """The step's result: the round shown, the round now open, and whether a proof is in force."""

    round: Round
    round_now: str
    slow_codes: tuple[str, ...]
    proven: bool


def isolated_at(record: Record) -> datetime | None:
    """Give the time (UTC) of the last isolating action in force; None while one is missing.

    Notes
    -----
    In UTC, because a waiting time counted on the wall clock is an hour off when clocks change.
    """
    undone, times = undone_seq(record), list[datetime]()
    for item in isolating_items(record):
        given = record.given(item)
        if given is None or given.seq <= undone:
            return None
        times.append(given.at.astimezone(UTC))
    return max(times)


def of_round(record: Record, round_name: str) -> tuple[Given[Bounded], ...]:
    """Give the readings of one round, oldest first."""
    return tuple(given for given in record.all(DEAD) if given.part("round") == round_name)


def _reading(given: Given[Bounded], indicator: EquipmentUsed, dead_v: float) -> DeadReading:
    """Turn a reading into what the calculation takes; a bound never shows less than it can."""
    pair = next(pair for pair in PAIRS if pair == given.part("pair"))
    shown = given.value
    if shown.comparator == "<":
        below_v = max(abs(shown.value), indicator.number("below_v"))
        return DeadReading(between=pair, below_v=below_v)
    over = shown.comparator == ">"
    return DeadReading(between=pair, volts=max(abs(shown.value), dead_v) if over else shown.value)


def _judged(
    record: Record, round_name: str, point: str, readings: list[Given[Bounded]]
) -> AbsenceResult:
    """Ask the calculation about one point."""
    place = qualifier_of(round=round_name)
    indicator, unit = record.get(INDICATOR, place), record.get(UNIT, place)
    proofs = [record.get(BEFORE, place), record.get(AFTER, place)]
    if record.pack is None or indicator is None or unit is None:
        raise CalculationRefused("instrument", "pick the indicator and the proving unit")
    expected_v, dead_v = unit.number("output_v"), record.pack.dead_v.value
    before, after = (
        None if read_v is None else Proof(expected_v=expected_v, reading_v=read_v)
        for read_v in proofs
    )
    fields: dict[str, Any] = {
        "threshold_v": dead_v,
        "instrument": Accuracy(
            accuracy_percent=indicator.number("accuracy_percent"),
            accuracy_counts=indicator.number("accuracy_counts"),
            resolution_v=indicator.number("resolution_v"),
        ),
        "proof_before": before,
        "readings": tuple(_reading(given, indicator, dead_v) for given in readings),
        "proof_after": after,
    }
    result = absence(**fields)
    note_absence(point, fields, result)
    return result


def _point(record: Record, round_name: str, name: str) -> Point:
    known = [g for g in of_round(record, round_name) if g.part("pair") in PAIRS]
    readings = [given for given in known if given.part("point") == name]
    try:
        result = _judged(record, round_name, name, readings)
    except CalculationRefused as refused:
        return Point(name=name, verdict="void", reasons=(Message("refused", str(refused)),))
    return Point(
        name=name,
        verdict=result.verdict,
        worst_v=result.worst_v,
        worst_v_high=result.worst_v_high,
        worst_between=result.worst_between or "",
        reasons=result.reasons,
    )


def _discharge(record: Record) -> Discharge | None:
    """Judge the newest discharge series taken since the isolation."""
    given, meter, since = record.given(DISCHARGE), record.get(METER), isolated_at(record)
    if given is None or record.pack is None or since is None or given.at < since:
        return None
    dead_v, last_v = record.pack.dead_v.value, given.value[-1][1]
    if meter is None:
        return Discharge(reached=False, last_v=last_v, fault="pick the voltmeter it was read with")
    samples = [Sample(t_s=row[0], v=row[1]) for row in given.value]
    read_with = Meter(
        input_ohm=meter.number("input_ohm", 1.0e7),
        input_tolerance_percent=meter.number("input_tolerance_percent"),
        accuracy_percent=meter.number("accuracy_percent"),
        accuracy_counts=meter.number("accuracy_counts"),
        resolution_v=meter.number("resolution_v"),
    )
    try:
        fields: dict[str, Any] = {"floor_v": 2.0, "threshold_v": dead_v, "gain_shared": False}
        result = decay(samples, read_with, **fields)
        note_discharge(samples, read_with, fields, result)
    except CalculationRefused as refused:
        return Discharge(reached=False, last_v=last_v, fault=str(refused))
    left_s = result.seconds_to_threshold
    reached = left_s == 0.0 and abs(last_v) + read_with.half_width_v(last_v) <= dead_v
    return Discharge(reached=reached, last_v=last_v, left_s=left_s, decay=result)


def assess_round(record: Record, round_name: str) -> Round:
    """Say what the readings of one round show; the worst point counts."""
    asked = [point.name for point in proof_points(record)]
    read = [given.part("point") for given in of_round(record, round_name)]
    points = [_point(record, round_name, name) for name in dict.fromkeys([*asked, *read])]
    verdicts = {point.verdict for point in points}
    place, since = qualifier_of(round=round_name), isolated_at(record)
    indicator, unit = record.get(INDICATOR, place), record.get(UNIT, place)
    wait = None if record.pack is None else timedelta(minutes=record.pack.wait_min.value)
    return Round(
        name=round_name,
        verdict="live" if "live" in verdicts else "dead" if verdicts == {"dead"} else "void",
        points=tuple(points),
        indicator="" if indicator is None else indicator.label,
        unit="" if unit is None else unit.label,
        isolated_at=since,
        wait_until=None if since is None or wait is None else since + wait,
        discharge=_discharge(record),
    )


@once_a_record
def assess(record: Record) -> DeEnergised:
    """Say what the round shown comes to: the one being read, or the last that was proven."""
    name = round_now(record)
    begun = record.given(BEFORE, qualifier_of(round=name)) is not None
    last = record.proof
    return DeEnergised(
        round=assess_round(record, name if begun or last is None else last.round),
        round_now=name,
        slow_codes=slow_codes(record),
        proven=record.proof_holds(),
    )
