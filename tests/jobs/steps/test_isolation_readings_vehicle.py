"""The isolation readings: the vehicle's side, and a fault that is not found."""

from typing import Any

import pytest

from jobs.core.entry import Kind
from jobs.core.flow import gate
from jobs.core.vehicle_side import MARKED, READ, SHORTED
from jobs.steps.intake.items import PRICE_CAP
from jobs.steps.isolation_readings import STEP
from jobs.steps.isolation_readings.assessment import assess
from jobs.steps.isolation_readings.items import (
    BILLED,
    CUSTOMER_TOLD,
    LEFT_HOW,
    OUTCOME,
    REPEAT,
    REPEAT_METHOD,
    VEHICLE,
)
from packs.physics.simulate import SimulatedLeak
from tests.builders import Bench
from tests.jobs.steps.isolation_scene import (
    CHARGER,
    HEATER,
    LEAK_IN_M3,
    an_isolation_bench,
    put_tester,
    struck,
)

STEPS = (STEP,)


def codes(bench: Bench) -> set[str]:
    record = bench.record()
    return {one.code for one in STEP.blockers(record, STEP.assess(record))}


def without_outcome(*leaks: SimulatedLeak, part: str = "") -> Bench:
    bench = an_isolation_bench(*leaks, part=part)
    struck(bench, OUTCOME)
    return bench


def missing(bench: Bench) -> set[str]:
    found = gate((STEP,), bench.record(), STEP)
    return {one.item for one in found if one.code == "missing"}


def test_a_vehicle_part_is_named_by_unplugging_it() -> None:
    bench = an_isolation_bench(part=HEATER, outcome="vehicle_part")
    assert assess(bench.record()).vehicle.leaking == (HEATER,)
    assert codes(bench) == set()


def test_two_leaking_parts_are_both_named() -> None:
    bench = without_outcome()
    for item in (VEHICLE.reading, VEHICLE.discharged) * 2:
        struck(bench, item)
    put_tester(bench, "nothing", "20k", ">550M")
    put_tester(bench, HEATER, "40k", ">550M")
    put_tester(bench, CHARGER, "40k", ">550M")
    assert set(assess(bench.record()).vehicle.leaking) == {HEATER, CHARGER}


def test_each_named_part_is_unplugged_once_the_vehicle_side_fails() -> None:
    bench = an_isolation_bench(part=HEATER, outcome="vehicle_part")
    assert "isolation_part_unread" not in codes(bench)
    for item in (VEHICLE.reading, VEHICLE.discharged) * 2:
        struck(bench, item, unplugged=CHARGER)
    assert "isolation_part_unread" in codes(bench)


def test_a_failing_vehicle_whose_part_is_not_found_is_not_named() -> None:
    bench = an_isolation_bench(part="none of them", outcome="vehicle_part")
    assert "isolation_part_not_named" in codes(bench)


def test_one_cable_alone_is_not_enough() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    struck(bench, VEHICLE.reading)
    assert missing(bench) == {VEHICLE.reading.key}
    assert assess(bench.record()).vehicle.verdict == "none"


def test_a_test_voltage_below_the_working_voltage_decides_nothing() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    struck(bench, VEHICLE.test_v)
    bench.put(VEHICLE.test_v, "250")
    assert "isolation_vehicle_undecided" in codes(bench)


def test_a_test_voltage_the_tester_does_not_have_is_refused() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    assert "isolation_test_voltage" not in codes(bench)
    struck(bench, VEHICLE.test_v)
    bench.put(VEHICLE.test_v, "750")
    assert "isolation_test_voltage" in codes(bench)


@pytest.mark.parametrize(
    "rows",
    [
        {SHORTED: "0", MARKED: "1M", READ: "2M"},
        {SHORTED: "100k", MARKED: "1M", READ: "1M"},
        {SHORTED: "0"},
    ],
)
def test_leads_that_do_not_prove_themselves_block(rows: dict[str, str]) -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    struck(bench, VEHICLE.lead_proof, when="after")
    bench.put(VEHICLE.lead_proof, rows, when="after")
    assert "isolation_leads" in codes(bench)


def test_a_missing_proof_of_the_leads_blocks() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    struck(bench, VEHICLE.lead_proof, when="after")
    assert missing(bench) == {VEHICLE.lead_proof.key}


def test_a_reading_after_the_last_proof_of_the_leads_blocks() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    put_tester(bench, HEATER, ">550M", ">550M")
    assert "isolation_leads_order" in codes(bench)


def test_every_tester_reading_is_followed_by_a_discharge() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    assert "isolation_discharge" not in codes(bench)
    struck(bench, VEHICLE.discharged)
    assert "isolation_discharge" in codes(bench)
    record = bench.record()
    undone = [b for b in STEP.blockers(record, STEP.assess(record)) if "discharge" in b.code]
    assert [blocker.qualifier for blocker in undone] == ["pole=neg;unplugged=nothing"]


def test_a_cable_is_discharged_before_the_next_reading_and_not_some_time_after_it() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    for item in (VEHICLE.reading, VEHICLE.discharged) * 2:
        struck(bench, item)
    struck(bench, VEHICLE.lead_proof, when="after")
    for item in (VEHICLE.reading, VEHICLE.discharged):
        raw: Any = ">550M" if item is VEHICLE.reading else True
        for pole in ("pos", "neg"):
            bench.put(item, raw, unplugged="nothing", pole=pole)
    bench.put(VEHICLE.lead_proof, {SHORTED: "0", MARKED: "1M", READ: "1.01M"}, when="after")
    record = bench.record()
    late = [b for b in STEP.blockers(record, STEP.assess(record)) if "discharge" in b.code]
    assert [(b.code, b.qualifier) for b in late] == [
        ("isolation_discharge_late", "pole=pos;unplugged=nothing")
    ]
    for item in (VEHICLE.reading, VEHICLE.discharged):
        struck(bench, item, pole="pos")
        bench.put(item, ">550M" if item is VEHICLE.reading else True,
                  unplugged="nothing", pole="pos")  # fmt: skip
    assert not {code for code in codes(bench) if "discharge" in code}


def test_the_next_reading_waits_for_the_discharge_of_the_one_before_it() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    item = next(i for i in STEP.items(bench.record()) if i.key == VEHICLE.reading.key)
    assert item.barred is not None
    assert item.barred("pole=pos;unplugged=nothing") is None
    struck(bench, VEHICLE.discharged, pole="neg")
    item = next(i for i in STEP.items(bench.record()) if i.key == VEHICLE.reading.key)
    assert item.barred is not None
    waits = item.barred("pole=pos;unplugged=nothing")
    assert waits is not None
    assert waits.code == "isolation_discharge"


def test_a_discharge_that_names_no_cable_stands_for_both() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    for _ in range(2):
        struck(bench, VEHICLE.discharged)
    bench.put(VEHICLE.discharged, unplugged="nothing")
    assert "isolation_discharge" not in codes(bench)


def test_an_over_range_reading_counts_with_its_bound_only() -> None:
    bench = without_outcome()
    for item in (VEHICLE.reading, VEHICLE.reading):
        struck(bench, item)
    put_tester_without_discharge(bench, ">100k")
    assert assess(bench.record()).vehicle.verdict == "undecided"


def put_tester_without_discharge(bench: Bench, shown: str) -> None:
    bench.put(VEHICLE.reading, shown, unplugged="nothing", pole="pos")
    bench.put(VEHICLE.reading, shown, unplugged="nothing", pole="neg")


def test_below_counts_as_no_insulation_at_all() -> None:
    bench = without_outcome()
    for item in (VEHICLE.reading, VEHICLE.reading):
        struck(bench, item)
    put_tester_without_discharge(bench, "<10M")
    assert assess(bench.record()).vehicle.verdict == "fail"


def not_found() -> Bench:
    bench = an_isolation_bench(outcome="not_found")
    for condition in ("wet", "warm", "loaded"):
        bench.put(REPEAT, ">20M", condition=condition)
    bench.put(REPEAT_METHOD, "Vehicle's own monitor")
    bench.put(CUSTOMER_TOLD)
    bench.put(LEFT_HOW, "parked")
    bench.put(BILLED, "300")
    return bench


def test_a_fault_not_found_ends_the_job_after_the_last_repeat() -> None:
    bench = not_found()
    assert codes(bench) == {"isolation_repeat_24h"}
    bench.wait(hours=23)
    early = bench.put(REPEAT, ">20M", condition="after_24h")
    assert codes(bench) == {"isolation_repeat_24h"}
    bench.add(Kind.STRIKE, {"key": early.key, "reason": "too early"})
    bench.wait(hours=1)
    bench.put(REPEAT, ">20M", condition="after_24h")
    assert codes(bench) == set()
    assert STEP.ends(bench.record()) == "not_found"


def test_only_the_last_repeat_may_be_accepted_by_a_manager() -> None:
    record = not_found().record()
    found = {one.code: one.countersign for one in STEP.blockers(record, STEP.assess(record))}
    assert found == {"isolation_repeat_24h": True}
    assert {one.code for one in STEP.reasons if one.countersign} == {"isolation_repeat_24h"}


def test_a_repeat_that_is_missing_blocks() -> None:
    bench = not_found()
    struck(bench, REPEAT, condition="warm")
    assert missing(bench) == {REPEAT.key}


def test_a_diagnosis_without_a_finding_is_billed_within_the_price_cap() -> None:
    bench = not_found()
    bench.put(PRICE_CAP, "299")
    assert "localise_over_price_cap" in codes(bench)
    struck(bench, BILLED)
    assert BILLED.key in missing(bench)
    bench.put(BILLED, "299")
    assert "localise_over_price_cap" not in codes(bench)


def test_a_repeat_below_the_limit_means_that_it_was_found() -> None:
    bench = not_found()
    struck(bench, REPEAT, condition="warm")
    bench.put(REPEAT, "90k", condition="warm")
    assert "isolation_repeat_low" in codes(bench)


def test_a_fault_found_does_not_end_the_job() -> None:
    assert STEP.ends(an_isolation_bench(LEAK_IN_M3).record()) == ""


def test_the_repeats_are_shown_with_their_time() -> None:
    record = not_found().record()
    titles = [table.title for table in STEP.section(record, STEP.assess(record)).tables]
    assert "Read again" in titles
