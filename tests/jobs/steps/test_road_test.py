"""Road test: refit, isolation, switching on, drive and release, and what blocks each."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.entering import enter_gate
from jobs.core.entry import Entry, Kind
from jobs.core.flow import blocker_digest, hold_gate, sign_gate
from jobs.core.item import Bounded, Effect
from jobs.core.log_check import REASONS as LOG_REASONS
from jobs.core.order import items_of
from jobs.core.section import Said
from jobs.steps.fault_localisation import STEP as LOCALISE
from jobs.steps.fault_localisation.items import ANSWER
from jobs.steps.intake.items import ARRIVED, PACK_ALONE
from jobs.steps.isolation_readings.items import OUTCOME, REPEAT
from jobs.steps.reassembly.items import BEFORE_LID
from jobs.steps.road_test import STEP
from jobs.steps.road_test.assessment import monitor
from jobs.steps.road_test.gate import NO_VEHICLE, REASONS
from jobs.steps.road_test.items import (
    AFTER_24H,
    BONDING,
    BONDING_A,
    BONDING_METER,
    CODES,
    CODES_TEXT,
    CONNECTORS,
    DISCONNECT,
    HOLD,
    HOT,
    INTERLOCK,
    MOUNTS,
    POWER_ON,
    REVISIT_ON,
    SECOND,
    SPREAD_C,
    SPREAD_LOAD,
    SPREAD_REST,
    SPREAD_TOP,
    SUPPLY,
    TOOLS,
    VEHICLE,
)
from tests.builders import ASTER, LORNE, MUNK, THORNE, Bench, a_bench, a_person
from tests.jobs.steps.repair_checks import (
    Change,
    again,
    codes,
    entered_in_order,
    found,
    held,
    named,
    speaks,
    without,
)
from tests.jobs.steps.repair_scene import (
    MILLIOHM,
    driven,
    switched_on_and_driven,
    vehicle_side,
)


def a_vehicle_part_job(ohm: str = ">550M") -> Bench:
    """Give a van whose cabin heater was replaced, the pack untouched."""
    bench = a_bench()
    bench.put(OUTCOME, "vehicle_part")
    bench.put(ANSWER, "approved")
    bench.sign("fault_localisation", by=MUNK)
    for slug in ("module_swap", "reassembly", "seal_test"):
        bench.sign(slug, outcome="not_needed")
    vehicle_side(bench, ohm)
    for item in (CONNECTORS, INTERLOCK, TOOLS):
        bench.put(item)
    bench.put(SECOND, by=MUNK)
    switched_on_and_driven(bench, opened=False)
    return bench


def _vehicle_leaks_too(bench: Bench) -> None:
    again(bench, OUTCOME, "both")
    vehicle_side(bench, "40k")


def _read_too_early(bench: Bench) -> None:
    without(bench, AFTER_24H)
    drive = bench.record().now
    bench.now = drive.replace(hour=drive.hour - 2)
    bench.put(AFTER_24H, "1.5M")


def _dry_and_no_visit(bench: Bench) -> None:
    bench.entries = [e for e in bench.entries if e.item != "fault_localisation.seen"]
    without(bench, AFTER_24H)
    without(bench, REVISIT_ON)


def _pack_not_read(bench: Bench) -> None:
    without(bench, BEFORE_LID.reading)


def _second(who: str) -> Change:
    def change(bench: Bench) -> None:
        without(bench, SECOND)
        bench.put(SECOND, by=who)

    return change


def _dry(bench: Bench) -> None:
    bench.entries = [e for e in bench.entries if e.item != "fault_localisation.seen"]


def _not_shown_at_first(bench: Bench) -> None:
    _dry(bench)
    without(bench, AFTER_24H)
    bench.put(REPEAT, ">10M", condition="wet")


def _visit_before_the_drive(bench: Bench) -> None:
    _dry(bench)
    without(bench, AFTER_24H)
    again(bench, REVISIT_ON, "2026-03-02")


POINTS = ("Strap, front left", "Strap, rear right", "Lid to tray")

CASES: tuple[tuple[str, Change], ...] = (
    ("road_pack_isolation", _pack_not_read),
    ("road_vehicle_isolation", _vehicle_leaks_too),
    ("road_bonding", lambda b: again(b, BONDING, dict.fromkeys(POINTS, "0.11"))),
    ("road_bonding_missing", lambda b: again(b, BONDING, {POINTS[0]: "0.02"})),
    ("road_bonding_current", lambda b: again(b, BONDING_A, "0.1")),
    ("road_meter", lambda b: again(b, BONDING_METER, MILLIOHM | {"due_on": "2026-03-01"})),
    ("road_second", _second(LORNE)),
    ("road_second_same", _second(ASTER)),
    ("road_codes", lambda b: again(b, CODES, "returned")),
    ("road_isolation_hot", lambda b: again(b, HOT, "170k")),
    ("road_isolation_hot", lambda b: again(b, HOT, "<500k")),
    ("road_isolation_24h", lambda b: again(b, AFTER_24H, "170k")),
    ("road_spread", lambda b: again(b, SPREAD_REST, "20.1")),
    ("road_spread", lambda b: again(b, SPREAD_TOP, "31")),
    ("road_spread", lambda b: again(b, SPREAD_LOAD, "101")),
    ("road_temperature_spread", lambda b: again(b, SPREAD_C, "5.5")),
    ("road_24h_missing", lambda b: without(b, AFTER_24H)),
    ("road_24h_unseen", _not_shown_at_first),
    ("road_revisit_past", _visit_before_the_drive),
    ("road_24h_early", _read_too_early),
    ("road_no_revisit", _dry_and_no_visit),
)


def test_a_whole_road_test_can_be_released_by_somebody_else() -> None:
    bench = driven()
    assert found(bench, STEP) == ()
    assert sign_gate((STEP,), bench.record(), STEP, a_person(THORNE)) == ()


def test_every_value_can_be_entered_in_the_order_of_the_work() -> None:
    assert entered_in_order(driven(), STEP) == []


@pytest.mark.parametrize(("code", "change"), CASES, ids=named(CASES))
def test_each_blocker_stands_when_its_point_fails(code: str, change: Change) -> None:
    bench = driven()
    change(bench)
    standing = [blocker for blocker in found(bench, STEP) if blocker.code == code]
    assert standing
    asked = {item.key for item in items_of(STEP, bench.record())} | {""}
    assert all(blocker.item in asked for blocker in standing)


def test_every_reason_is_shown_by_a_case() -> None:
    others = {NO_VEHICLE.code, POWER_ON.code, *(reason.code for reason in LOG_REASONS)}
    assert {code for code, _ in CASES} | others == {reason.code for reason in REASONS}


def test_only_cell_spreads_and_the_24_h_reading_may_be_countersigned() -> None:
    accepted = {r.code for r in REASONS if r.countersign and r not in LOG_REASONS}
    assert accepted == {"road_spread", "road_24h_missing", "road_24h_unseen", "road_24h_early"}


def test_a_countersigned_24_h_reading_no_longer_blocks() -> None:
    bench = driven()
    without(bench, AFTER_24H)
    (blocker,) = found(bench, STEP)
    bench.add(Kind.COUNTERSIGN, {"digest": blocker_digest(blocker), "reason": "tow"}, by=THORNE)
    assert found(bench, STEP) == ()


def test_mounts_out_of_tolerance_stand_against_the_disconnect() -> None:
    bench = driven()
    without(bench, MOUNTS.values, stage="2")
    assert "torque_missing" in {b.code for b in held(bench, STEP, HOLD)}


def test_the_disconnect_waits_for_bonding_isolation_tools_and_second_person() -> None:
    bench = driven()
    assert held(bench, STEP, HOLD) == ()
    for item in (BONDING, TOOLS, SECOND):
        without(bench, item)
    missing = {b.item for b in held(bench, STEP, HOLD)}
    assert missing == {BONDING.key, TOOLS.key, SECOND.key}
    _pack_not_read(bench)
    assert "road_pack_isolation" in {b.code for b in held(bench, STEP, HOLD)}


def test_a_technician_passes_the_hold_though_another_releases() -> None:
    bench = driven()
    bench.entries = [e for e in bench.entries if e.kind is not Kind.HOLD or not _here(e)]
    assert hold_gate((STEP,), bench.record(), STEP, HOLD, a_person(ASTER)) == ()
    unqualified = {b.code for b in sign_gate((STEP,), bench.record(), STEP, a_person(ASTER))}
    assert {"signer_unqualified", "signer_of"} <= unqualified


def _here(entry: Entry) -> bool:
    return (entry.value["step"], entry.value["hold"]) == (STEP.slug, HOLD)


def test_switching_on_is_locked_before_the_hold_and_ends_the_proof() -> None:
    bench = a_vehicle_part_job()
    bench.entries = [e for e in bench.entries if e.kind is not Kind.HOLD or not _here(e)]
    by = a_person(ASTER)
    for item in (DISCONNECT, SUPPLY):
        without(bench, item)
        assert item.effect is Effect.ENDS_PROOF
        refused = enter_gate((STEP,), bench.record(), key=item.key, qualifier="", by=by)
        assert {blocker.code for blocker in refused} == {"hold_not_passed"}


def test_connectors_go_in_only_while_the_circuit_is_proven_dead() -> None:
    bench = driven()
    without(bench, CONNECTORS)
    assert not bench.record().proof_holds()
    by = a_person(ASTER)
    refused = enter_gate((STEP,), bench.record(), key=CONNECTORS.key, qualifier="", by=by)
    assert {blocker.code for blocker in refused} == {"proof_needed"}
    bench.prove()
    assert enter_gate((STEP,), bench.record(), key=CONNECTORS.key, qualifier="", by=by) == ()


def test_a_vehicle_part_job_asks_nothing_of_the_pack() -> None:
    bench = a_vehicle_part_job()
    assert found(bench, STEP) == ()
    keys = {item.key for item in STEP.items(bench.record())}
    assert not keys & {BONDING.key, MOUNTS.values.key, SPREAD_REST.key, SPREAD_C.key}
    assert VEHICLE.reading.key in keys
    assert HOT.key in keys


def test_a_vehicle_part_that_still_leaks_keeps_the_disconnect_out() -> None:
    bench = a_vehicle_part_job("40k")
    assert {b.code for b in held(bench, STEP, HOLD)} == {"road_vehicle_isolation"}


def test_whoever_signed_swap_or_localisation_may_not_release() -> None:
    bench = a_vehicle_part_job()
    bench.sign("fault_localisation", by=THORNE)
    assert "signer_of" in {
        b.code for b in sign_gate((STEP,), bench.record(), STEP, a_person(THORNE))
    }
    assert LOCALISE.slug in STEP.signers.not_signer_of


def test_an_early_reading_is_no_matter_where_it_was_dry_and_a_visit_is_booked() -> None:
    bench = driven()
    bench.entries = [e for e in bench.entries if e.item != "fault_localisation.seen"]
    _read_too_early(bench)
    assert codes(bench, STEP) == set()


def test_returned_codes_ask_which() -> None:
    bench = driven()
    again(bench, CODES, "returned")
    assert CODES_TEXT.key in {b.item for b in found(bench, STEP) if b.code == "missing"}


def test_a_pack_that_came_alone_is_not_driven() -> None:
    bench = a_bench()
    bench.put(ARRIVED, PACK_ALONE)
    assert STEP.skip(bench.record()) is NO_VEHICLE
    assert STEP.skip(driven().record()) is None


def test_a_bound_shown_by_the_vehicle_stays_a_bound() -> None:
    shown = [monitor(Bounded(5e5, way), 1.8e5) for way in ("=", ">", "<")]
    assert [one.verdict for one in shown if one] == ["pass", "pass", "fail"]
    assert monitor(None, 1.8e5) is None


def test_the_customer_reads_the_release_what_to_watch_and_when_to_come_back() -> None:
    bench = driven()
    bench.sign("road_test", by=THORNE)
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    words = [part.text.format(**part.params) for part in section.plain if isinstance(part, Said)]
    assert "It passed every check we made and was released." in words
    assert "Please come back for a check on 2026-04-02." in words
    assert any("stop, switch off" in text for text in words)
    assert not any("safe" in text.lower() or "like new" in text for text in words)
    assert section.pictures[0].description.startswith("limit 500 ohm per volt")


def test_low_isolation_after_the_drive_heads_the_panel() -> None:
    bench = driven()
    again(bench, HOT, "170k")
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert (section.verdict, section.headline) == (
        "fail",
        Said("Isolation is low after the drive."),
    )


def test_returned_codes_and_a_wet_pack_are_advice() -> None:
    bench = driven()
    again(bench, CODES, "returned")
    bench.put(CODES_TEXT, "P0AA6")
    without(bench, AFTER_24H)
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert (section.verdict, section.headline) == ("fail", Said("Trouble codes returned."))
    assert [said.params for said in section.advice] == [
        {"codes": "P0AA6"},
        {"from_at": "2026-03-03T08:00:00+00:00"},
    ]


def test_a_vehicle_part_job_shows_the_vehicles_side_before_and_after() -> None:
    bench = a_vehicle_part_job()
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert section.pictures[0].title == "Isolation before and after"
    assert "Isolation, vehicle, repaired" in {fact.label for fact in section.facts}


def test_a_pack_without_bonding_points_asks_for_none() -> None:
    bench = driven()
    assert bench.pack is not None
    bench.pack = bench.pack.model_copy(update={"bonding_points": (), "interlock": False})
    keys = {item.key for item in STEP.items(bench.record())}
    assert not keys & {BONDING.key, BONDING_METER.key, INTERLOCK.key}


WHOLE = driven()


@given(st.sets(st.integers(0, len(WHOLE.entries) - 1)))
@settings(max_examples=12)
def test_any_part_of_the_entries_can_be_judged_and_said(kept: set[int]) -> None:
    speaks(WHOLE, STEP, kept)
