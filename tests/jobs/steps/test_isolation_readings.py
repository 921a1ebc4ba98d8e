"""The isolation readings: which side, and what blocks."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.flow import gate, hold_gate
from jobs.core.item import qualifier_of
from jobs.core.seal import sealed
from jobs.steps.intake.items import ARRIVED
from jobs.steps.isolation_readings import STEP
from jobs.steps.isolation_readings.assessment import assess
from jobs.steps.isolation_readings.items import (
    HOLD,
    LIVE,
    OUTCOME,
    PACK,
    VEHICLE,
)
from packs.definition import Disconnect, IsolationPoint
from packs.physics.simulate import SimulatedLeak
from tests.builders import Bench, a_bench, a_person, an_equipment
from tests.jobs.steps.isolation_scene import (
    GLOVES,
    HEATER,
    LEAK_IN_M3,
    METER,
    SHUNT,
    SIDE_A,
    SIDE_B,
    an_isolation_bench,
    put_conditions,
    put_live,
    put_pack_side,
    put_pole,
    struck,
)

STEPS = (STEP,)


def codes(bench: Bench) -> set[str]:
    record = bench.record()
    return {one.code for one in STEP.blockers(record, STEP.assess(record))}


def hold_codes(bench: Bench) -> set[str]:
    found = hold_gate(STEPS, bench.record(), STEP, HOLD, a_person())
    return {one.code for one in found}


def test_a_leak_in_the_pack_is_found_with_its_resistance() -> None:
    a = assess(an_isolation_bench(LEAK_IN_M3).record())
    assert a.pack.verdict == "fail"
    assert a.pack.total_ohm_low is not None
    assert a.pack.total_ohm_high is not None
    assert a.pack.total_ohm_low < 6.0e4 < a.pack.total_ohm_high
    assert a.vehicle.verdict == "pass"
    assert a.agrees


def test_the_step_can_be_signed_once_everything_is_there() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    bench.hold(STEP.slug, HOLD)
    assert gate(STEPS, bench.record(), STEP) == ()


def test_an_empty_record_asks_and_does_not_raise() -> None:
    bench = Bench()
    record = bench.record()
    assert STEP.section(record, STEP.assess(record)).verdict == "none"
    assert OUTCOME in STEP.items(record)


def hidden() -> Bench:
    """Give a job in which both sections read zero at their only pole."""
    bench = an_isolation_bench(outcome="not_found")
    for point in (SIDE_A, SIDE_B):
        for shunt in ("none", "fitted"):
            struck(bench, PACK.reading, point=point, shunt=shunt)
            bench.put(PACK.reading, "0.01", point=point, shunt=shunt)
    return bench


def test_zero_at_the_only_pole_of_a_section_is_not_excluded_and_never_passes() -> None:
    bench = hidden()
    a = assess(bench.record())
    assert a.pack.verdict == "undecided"
    assert "isolation_pack_undecided" in codes(bench)
    bench.put(PACK.not_excluded)
    assert "isolation_pack_undecided" not in codes(bench)
    said = [one.text for one in STEP.section(bench.record(), a).plain if hasattr(one, "text")]
    assert "A leak in the pack is not excluded by these readings." in said


def test_two_poles_of_each_section_let_a_sound_pack_pass() -> None:
    bench = hidden()
    put_pole(bench, "String negative", "-0.01", "0.00")
    put_pole(bench, "String positive", "0.02", "0.00")
    a = assess(bench.record())
    assert {one.found.method for one in a.pack.sections} == {"two_poles"}
    assert a.pack.verdict == "pass"


def test_a_pack_that_is_decided_is_not_signed_as_not_excluded() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    bench.put(PACK.not_excluded)
    assert "isolation_pack_signed_wrongly" in codes(bench)


def test_a_whole_string_is_read_by_the_voltmeter_method() -> None:
    bench = an_isolation_bench()
    assert bench.pack is not None
    points = tuple(p for p in bench.pack.isolation_points if p.name.startswith("String"))
    loop = Disconnect(kind="low_voltage_loop")
    bench.pack = bench.pack.model_copy(update={"disconnect": loop, "isolation_points": points})
    put_pole(bench, "String negative", "-105.0", "-102.1")
    put_pole(bench, "String positive", "195.2", "176.0")
    pack = assess(bench.record()).pack
    assert [one.found.method for one in pack.sections] == ["voltmeter"]
    assert pack.standard_ohm is not None
    assert pack.total_ohm is not None
    assert pack.standard_ohm > pack.total_ohm


def test_without_a_reachable_point_the_pack_side_is_signed_as_not_excluded() -> None:
    bench = a_bench()
    assert bench.pack is not None
    points = tuple(replace_reach(p) for p in bench.pack.isolation_points)
    loop = Disconnect(kind="none")
    bench.pack = bench.pack.model_copy(update={"disconnect": loop, "isolation_points": points})
    asked = STEP.items(bench.record())
    assert PACK.not_excluded in asked
    assert PACK.meter not in asked
    assert STEP.holds(bench.record(), STEP.assess(bench.record())) == ()
    assert "isolation_pack_undecided" in codes(bench)


def replace_reach(point: IsolationPoint) -> IsolationPoint:
    return point.model_copy(update={"reachable": "lid_off"})


def test_a_section_read_without_its_shunt_is_unread() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    assert "isolation_section_unread" not in codes(bench)
    struck(bench, PACK.reading, point=SIDE_A, shunt="fitted")
    assert "isolation_section_unread" in codes(bench)


def test_a_reading_that_was_not_watched_has_not_settled() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    assert "isolation_unsettled" not in codes(bench)
    struck(bench, PACK.settled, point=SIDE_A)
    assert "isolation_unsettled" in codes(bench)
    assert assess(bench.record()).pack.verdict == "undecided"


def test_the_end_of_a_settling_counts_as_the_reading() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    given_v = next(g.value for g in bench.record().all(PACK.reading) if g.part("point") == SIDE_A)
    struck(bench, PACK.settled, point=SIDE_A)
    struck(bench, PACK.reading, point=SIDE_A, shunt="none")
    rows = [[str(t), f"{given_v + 20.0 * 0.5 ** (t / 5):.2f}"] for t in range(0, 90, 6)]
    bench.put(PACK.settling, rows, point=SIDE_A, shunt="none")
    a = assess(bench.record())
    assert a.pack.verdict == "fail"
    assert codes(bench) == set()
    kinds = {(one.point, one.shunt): one.kind for one in a.pack.readings}
    assert kinds[SIDE_A, "none"] == "standing"


def test_a_settling_of_two_rows_tells_nothing() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    struck(bench, PACK.settled, point=SIDE_A)
    bench.put(PACK.settling, [["0", "90"], ["5", "80"]], point=SIDE_A, shunt="none")
    assert "isolation_unsettled" in codes(bench)


def test_a_reading_away_from_its_settling_is_not_settled() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    rows = [[str(t), f"{60.0 + 20.0 * 0.5 ** (t / 5):.2f}"] for t in range(0, 90, 6)]
    bench.put(PACK.settling, rows, point=SIDE_A, shunt="none")
    assert "isolation_unsettled" in codes(bench)


def test_a_shunted_reading_above_the_plain_one_is_a_contradiction() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    struck(bench, PACK.reading, point=SIDE_A, shunt="fitted")
    bench.put(PACK.reading, "148", point=SIDE_A, shunt="fitted")
    assert "isolation_contradictory" in codes(bench)


def test_two_figures_of_one_section_that_differ_block() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    put_pole(bench, "String negative", "-30.0", "-20.0")
    assert "isolation_estimates_differ" in codes(bench)


@pytest.mark.parametrize(
    ("leaks", "part", "outcome"),
    [
        ((LEAK_IN_M3,), "", "vehicle_part"),
        ((LEAK_IN_M3,), "", "not_found"),
        ((), HEATER, "pack"),
        ((), "", "both"),
    ],
)
def test_an_outcome_against_the_readings_blocks(
    leaks: tuple[SimulatedLeak, ...], part: str, outcome: str
) -> None:
    assert "isolation_outcome" in codes(an_isolation_bench(*leaks, part=part, outcome=outcome))


def test_a_pack_alone_has_no_vehicle_side() -> None:
    bench = a_bench()
    bench.put(ARRIVED, "pack_alone")
    put_live(bench)
    put_pack_side(bench, LEAK_IN_M3)
    put_conditions(bench, "pack")
    assert VEHICLE.tester not in STEP.items(bench.record())
    assert codes(bench) == set()


def test_live_readings_wait_for_gloves_second_person_meter_and_shunt() -> None:
    bench = a_bench()
    assert hold_codes(bench) == {"missing"}
    put_live(bench)
    bench.put(PACK.meter, METER)
    bench.put(PACK.shunt, SHUNT)
    assert hold_codes(bench) == set()


@pytest.mark.parametrize(
    ("meter", "shunt", "code"),
    [
        ({"rated_v": 300}, {"rated_v": 1000, "rated_w": 2}, "isolation_instrument_rating"),
        ({"rated_v": 1000}, {"rated_v": 1000, "rated_w": 0.1}, "isolation_shunt_power"),
        (
            {"rated_v": 1000, "due_on": "2026-01-31"},
            {"rated_v": 1000, "rated_w": 2},
            "isolation_instrument_date",
        ),
    ],
)
def test_instruments_that_do_not_suit_keep_the_hold_shut(
    meter: dict[str, object], shunt: dict[str, object], code: str
) -> None:
    bench = a_bench()
    put_live(bench)
    bench.put(PACK.meter, an_equipment("meter", input_ohm=1e7, **meter))  # type: ignore[arg-type]
    bench.put(PACK.shunt, an_equipment("shunt", ohm=5e5, tolerance_percent=1, **shunt))  # type: ignore[arg-type]
    assert code in hold_codes(bench)


def test_gloves_below_the_pack_keep_the_hold_shut() -> None:
    bench = a_bench()
    put_live(bench)
    bench.put(PACK.meter, METER)
    bench.put(PACK.shunt, SHUNT)
    struck(bench, LIVE.gloves)
    struck(bench, LIVE.air_test)
    bench.put(LIVE.gloves, {**GLOVES, "ratings": {"glove_class": "00", "max_dc_v": 250}})
    bench.put(LIVE.air_test)
    assert hold_codes(bench) == {"live_gloves_rating"}


def test_readings_are_offered_only_at_points_of_this_pack() -> None:
    asked = {item.key: item for item in STEP.items(a_bench().record())}
    assert asked[PACK.reading.key].offered == (
        qualifier_of(point=SIDE_A, shunt="none"),
        qualifier_of(point=SIDE_A, shunt="fitted"),
        qualifier_of(point=SIDE_B, shunt="none"),
        qualifier_of(point=SIDE_B, shunt="fitted"),
    )


def test_all_vehicle_work_needs_the_proof_and_all_readings_at_the_pack_the_hold() -> None:
    for item in STEP.items(a_bench().record()):
        if item.key.startswith("isolation_readings.vehicle_") and item.key != VEHICLE.tester.key:
            assert item.needs_proof, item.key
        if item.key in {PACK.reading.key, PACK.settling.key, PACK.settled.key}:
            assert item.hold == HOLD


def test_the_section_shows_both_sides_with_limit_and_source() -> None:
    record = an_isolation_bench(LEAK_IN_M3).record()
    shown = STEP.section(record, STEP.assess(record))
    assert shown.verdict == "fail"
    per_volt = [fact for fact in shown.facts if fact.limit is not None]
    assert [fact.verdict for fact in per_volt] == ["fail", "pass"]
    assert all(fact.limit_kind for fact in per_volt)


@pytest.mark.parametrize(
    ("leaks", "part", "words"),
    [
        ((LEAK_IN_M3,), HEATER, "Both sides leak."),
        ((LEAK_IN_M3,), "", "The pack leaks."),
        ((), HEATER, "The vehicle's side leaks."),
        ((), "", "Above the limit where it was read."),
    ],
)
def test_the_headline_names_the_side(
    leaks: tuple[SimulatedLeak, ...], part: str, words: str
) -> None:
    record = an_isolation_bench(*leaks, part=part).record()
    headline = STEP.section(record, STEP.assess(record)).headline
    assert headline is not None
    assert headline.text == words


def test_nothing_said_claims_more_than_was_read() -> None:
    for bench in (an_isolation_bench(LEAK_IN_M3), hidden()):
        record = bench.record()
        words = str(STEP.section(record, STEP.assess(record))).lower()
        assert "safe" not in words
        assert "like new" not in words


WHOLE = an_isolation_bench(LEAK_IN_M3, part=HEATER, outcome="both").entries


@settings(max_examples=20, deadline=None)
@given(st.sets(st.integers(0, len(WHOLE) - 1)))
def test_any_part_of_the_entries_is_judged_without_an_error(left_out: set[int]) -> None:
    bench = replace(a_bench(), entries=[e for n, e in enumerate(WHOLE) if n not in left_out])
    record = bench.record()
    a = STEP.assess(record)
    sealed(a)
    STEP.blockers(record, a)
    STEP.holds(record, a)
    STEP.section(record, a)
    assert a.pack.verdict in {"none", "pass", "fail", "undecided"}
