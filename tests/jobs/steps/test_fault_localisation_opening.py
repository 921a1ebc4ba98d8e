"""The fault localisation: before the lid, what is left when work stops, vehicle parts."""

import pytest

from jobs.core.entry import Kind
from jobs.core.flow import gate, hold_gate
from jobs.core.item import Effect
from jobs.steps.fault_localisation import STEP
from jobs.steps.fault_localisation.assessment import assess, outcome
from jobs.steps.fault_localisation.items import (
    ANSWER,
    BILLED,
    CHARGE_PERCENT,
    CLOSED_UP,
    CUT_DEPTH_MM,
    LABELLED,
    LID_BACK,
    LID_HOLD,
    LID_OFF,
    LINK_HOLD,
    LINK_OPENED,
    LIVE,
    PART_DONE,
    PART_NEW,
    PART_OLD,
    QUARANTINE_FREE,
    REFUSAL,
    SENSE_OFF,
    STOP,
    TABLE,
    TOW_ONLY,
)
from jobs.steps.intake.items import ARRIVED, PRICE_CAP
from packs.definition import Figure, Lid
from packs.physics.simulate import SimulatedLeak
from tests.builders import MUNK, Bench, a_person, an_equipment
from tests.jobs.steps.isolation_scene import (
    HEATER,
    LEAK_IN_M3,
    SIDE_A,
    an_isolation_bench,
    struck,
)
from tests.jobs.steps.localisation_scene import (
    LIFTING_TABLE,
    a_localised_bench,
    an_open_bench,
    put_before_lid,
    put_hold,
    put_lid_off,
    put_quotation,
)

STEPS = (STEP,)


def codes(bench: Bench) -> set[str]:
    record = bench.record()
    return {one.code for one in STEP.blockers(record, STEP.assess(record))}


def hold_codes(bench: Bench, hold: str = LID_HOLD) -> set[str]:
    return {one.code for one in hold_gate(STEPS, bench.record(), STEP, hold, a_person())}


def keys(bench: Bench) -> set[str]:
    return {item.key for item in STEP.items(bench.record())}


def ready(bench: Bench | None = None) -> Bench:
    """Give a bench on which everything before the lid was entered."""
    found = bench or an_isolation_bench(LEAK_IN_M3)
    put_quotation(found)
    put_before_lid(found)
    return found


def said(bench: Bench) -> str:
    record = bench.record()
    return str(STEP.section(record, STEP.assess(record)))


def test_the_lid_may_come_off_when_everything_is_there() -> None:
    assert hold_codes(ready()) == set()


def test_the_lid_stays_on_without_a_table() -> None:
    bench = ready()
    struck(bench, TABLE)
    assert hold_codes(bench) == {"missing"}


def test_the_lid_stays_on_without_the_customer() -> None:
    bench = ready()
    struck(bench, ANSWER)
    assert hold_codes(bench) == {"localise_not_approved"}


def test_the_lid_stays_on_without_a_quarantine_place() -> None:
    bench = ready()
    struck(bench, QUARANTINE_FREE)
    assert hold_codes(bench) == {"missing"}


def test_a_charge_above_the_limit_keeps_the_lid_on_until_a_manager_accepts_it() -> None:
    bench = ready()
    struck(bench, CHARGE_PERCENT)
    bench.put(CHARGE_PERCENT, "55")
    (found,) = hold_gate(STEPS, bench.record(), STEP, LID_HOLD, a_person())
    assert found.code == "localise_charge"
    assert found.countersign
    assert {one.code for one in STEP.reasons if one.countersign} == {"localise_charge"}


@pytest.mark.parametrize(
    ("table", "code"),
    [
        (an_equipment("lifting_table", max_kg=300), "localise_table_rating"),
        (an_equipment("lifting_table", max_kg=900, due_on="2026-01-31"), "localise_table_date"),
    ],
)
def test_a_table_that_does_not_bear_the_pack_keeps_the_lid_on(table: object, code: str) -> None:
    bench = ready()
    struck(bench, TABLE)
    bench.put(TABLE, table)
    assert hold_codes(bench) == {code}


def with_lid(bench: Bench, lid: Lid) -> Bench:
    assert bench.pack is not None
    bench.pack = bench.pack.model_copy(update={"lid": lid})
    return bench


def test_a_bonded_lid_is_not_cut_deeper_than_the_definition_says() -> None:
    maker = Figure(value=8.0, kind="shop_default")
    lid = Lid(
        kind="bonded", sealant="Grey", cure_h=maker, cutting_depth_mm=maker, cutting_tool="Blade"
    )
    bench = with_lid(ready(), lid)
    assert CUT_DEPTH_MM.key in keys(bench)
    bench.put(CUT_DEPTH_MM, "9.5")
    assert hold_codes(bench) == {"localise_cut_depth"}
    struck(bench, CUT_DEPTH_MM)
    bench.put(CUT_DEPTH_MM, "8")
    assert hold_codes(bench) == set()


def test_a_lid_the_definition_calls_not_serviceable_stays_on() -> None:
    assert hold_codes(with_lid(ready(), Lid(kind="not_serviceable"))) == {
        "localise_lid_not_serviceable"
    }


def test_taking_the_lid_off_opens_the_pack_behind_its_hold() -> None:
    assert LID_OFF.effect is Effect.OPENS_PACK
    assert LID_OFF.hold == LID_HOLD
    assert LINK_OPENED.hold == LINK_HOLD
    assert an_open_bench().record().pack_open


def test_a_link_may_open_once_lid_and_sense_leads_are_off() -> None:
    bench = ready()
    assert hold_codes(bench, LINK_HOLD) == {"missing", "localise_lid_on"}
    put_hold(bench, LID_HOLD)
    bench.put(LID_OFF)
    assert hold_codes(bench, LINK_HOLD) == {"missing"}
    bench.put(SENSE_OFF)
    assert hold_codes(bench, LINK_HOLD) == set()


def test_a_pack_alone_is_not_secured_against_tipping_and_needs_no_proof() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    put_quotation(bench)
    bench.put(ARRIVED, "pack_alone")
    asked = {item.key: item for item in STEP.items(bench.record())}
    assert "fault_localisation.secured" not in asked
    assert not asked["fault_localisation.capped"].needs_proof


def a_vehicle_bench() -> Bench:
    bench = an_isolation_bench(part=HEATER, outcome="vehicle_part")
    put_quotation(bench)
    return bench


def test_a_vehicle_part_is_replaced_without_opening_the_pack() -> None:
    bench = a_vehicle_bench()
    assert LID_OFF.key not in keys(bench)
    assert STEP.holds(bench.record(), STEP.assess(bench.record())) == ()
    assert {one.item for one in gate(STEPS, bench.record(), STEP)} == {
        PART_OLD.key,
        PART_NEW.key,
        PART_DONE.key,
        LIVE.second.key,
    }
    bench.put(LIVE.second, by=MUNK)
    bench.put(PART_OLD, "Heater H-12, 4471", part=HEATER)
    bench.put(PART_NEW, "Heater H-12, 9902", part=HEATER)
    bench.put(PART_DONE, part=HEATER)
    assert gate(STEPS, bench.record(), STEP) == ()
    assert outcome(bench.record()) == "vehicle_part"
    assert HEATER in said(bench)


def test_a_customer_who_declines_ends_the_job() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    put_quotation(bench, "declined")
    assert {CLOSED_UP.key, LABELLED.key, TOW_ONLY.key, BILLED.key, REFUSAL.key} <= keys(bench)
    assert LID_BACK.key not in keys(bench)
    assert STEP.ends(bench.record()) == "declined"
    assert outcome(bench.record()) == "declined"
    assert STEP.holds(bench.record(), STEP.assess(bench.record())) == ()
    assert "tow only" in said(bench)


@pytest.mark.parametrize("why", ["declined", "not_serviceable"])
def test_work_that_stops_with_the_lid_off_asks_for_the_lid(why: str) -> None:
    bench = an_open_bench()
    bench.put(STOP, why)
    assert {LID_BACK.key, REFUSAL.key} <= keys(bench)
    assert bench.record().pack_open
    bench.put(LID_BACK)
    assert not bench.record().pack_open
    assert codes(bench) == set()
    assert STEP.ends(bench.record()) == "declined"
    assert ("cannot be opened and closed again" in said(bench)) == (why == "not_serviceable")


def test_a_lid_taken_off_again_after_it_was_closed_blocks_the_end() -> None:
    bench = an_open_bench()
    bench.put(STOP, "declined")
    bench.put(LID_BACK)
    bench.put(LID_OFF)
    assert codes(bench) == {"localise_lid_open"}


def test_a_declined_job_is_billed_within_the_price_cap() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    bench.put(PRICE_CAP, "300")
    put_quotation(bench, "declined")
    bench.put(BILLED, "320")
    assert codes(bench) == {"localise_over_price_cap"}
    struck(bench, BILLED)
    bench.put(BILLED, "300")
    assert codes(bench) == set()


def test_the_next_readings_proposed_keep_to_what_lid_and_holds_allow() -> None:
    leak = SimulatedLeak(module="M3", position_cells=2.5, leak_ohm=3.0e6)
    bench = an_isolation_bench(leak)
    closed = assess(bench.record()).search.result
    assert closed is not None
    assert all(one.module in {"M7", "M8"} for one in closed.next_readings)
    assert all(one.open_after == ("M7",) for one in closed.next_readings)


def test_a_lid_struck_as_never_taken_off_closes_the_pack() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    put_quotation(bench)
    put_lid_off(bench)
    struck(bench, LID_OFF)
    assert not bench.record().pack_open
    assert bench.entries[-1].kind is Kind.STRIKE


def test_the_side_of_the_disconnect_is_said_in_the_readings_used() -> None:
    taken = assess(a_localised_bench().record()).search.taken
    assert taken[0].qualifier == f"point={SIDE_A};shunt=none"
    assert taken[0].reading.open_after == ("M7",)
    assert LIFTING_TABLE["kind"] == "lifting_table"
