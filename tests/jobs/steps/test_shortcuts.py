"""Ways out of the door that are shut: each test is something somebody in a hurry would try."""

from dataclasses import replace

import pytest

from jobs.core.flow import gate, hold_gate
from jobs.core.item import qualifier_parts
from jobs.steps.de_energise_check import STEP as PROOF
from jobs.steps.de_energise_check.items import (
    DEAD,
    KEYS,
    NEW_ROUND,
    SHIELD,
    readings_asked,
    undone_seq,
)
from jobs.steps.fault_localisation import STEP as LOCALISATION
from jobs.steps.fault_localisation.items import (
    ANSWER,
    CHARGE_PERCENT,
    LID_HOLD,
    QUOTATION,
    QUOTE_HOW,
    QUOTE_WHO,
)
from jobs.steps.isolation_readings import STEP as READINGS
from jobs.steps.isolation_readings.items import PACK, REPEAT, VEHICLE
from jobs.steps.module_swap import STEP as SWAP
from jobs.steps.module_swap.items import SPARE_OHM
from jobs.steps.reassembly import STEP as REASSEMBLY
from jobs.steps.reassembly.items import AFTER_LID, BEFORE_LID
from jobs.steps.reassembly.items import LID_HOLD as LID_ON_HOLD
from jobs.steps.road_test import STEP as ROAD
from jobs.steps.road_test.items import HOLD as DISCONNECT_HOLD
from jobs.steps.road_test.items import VEHICLE as AFTER_REPAIR
from packs.definition import Figure
from tests.builders import MUNK, Bench, a_person, a_quotation
from tests.jobs.steps.de_energise_scene import Scene
from tests.jobs.steps.isolation_scene import LEAK_IN_M3, METER, an_isolation_bench
from tests.jobs.steps.isolation_scene import TESTER as A_TESTER
from tests.jobs.steps.localisation_scene import put_before_lid, put_quotation
from tests.jobs.steps.repair_checks import again, codes, found, held, without
from tests.jobs.steps.repair_scene import driven, leaking, reassembled

SHORT = [["0", "1.0"], ["1", "1.0"]]


# ---------------------------------------------------------------- the proof of absence of voltage


def a_second_round() -> Scene:
    scene = Scene().whole().prove()
    scene.bench.put(NEW_ROUND, round="1")
    return scene


@pytest.mark.parametrize("typed", ["384", "-384", ">1000", "5"])
def test_a_live_reading_ends_the_proof_that_is_in_force(typed: str) -> None:
    scene = a_second_round()
    place = readings_asked(scene.bench.record(), "2")[0]
    asked = next(item for item in PROOF.items(scene.record) if item.key == DEAD.key)
    scene.bench.put(asked, typed, **qualifier_parts(place))
    record = scene.bench.record()
    assert not record.proof_holds()
    assert undone_seq(record) == 0


@pytest.mark.parametrize("typed", ["0.3", "<5"])
def test_a_dead_reading_leaves_the_proof_in_force(typed: str) -> None:
    scene = a_second_round()
    place = readings_asked(scene.bench.record(), "2")[0]
    asked = next(item for item in PROOF.items(scene.record) if item.key == DEAD.key)
    scene.bench.put(asked, typed, **qualifier_parts(place))
    assert scene.bench.record().proof_holds()


def test_keys_that_change_hands_in_a_new_round_end_the_proof_in_force() -> None:
    scene = a_second_round()
    scene.bench.put(KEYS, MUNK, round="2")
    assert not scene.bench.record().proof_holds()


def test_a_shield_put_on_after_the_readings_does_not_count_for_them() -> None:
    scene = Scene().prepare().isolate().protect().read()
    scene.strike(SHIELD).bench.put(SHIELD, scene.shield, round="1")
    assert "proof_order" in scene.second().codes()


# ---------------------------------------------------------------- readings


def test_below_a_bound_does_not_reach_the_limit_of_a_fault_not_found() -> None:
    bench = an_isolation_bench(outcome="not_found")
    for name in ("wet", "warm", "loaded"):
        bench.put(REPEAT, "<10M", condition=name)
    blocked = [b.code for b in gate((READINGS,), bench.record(), READINGS)]
    assert blocked.count("isolation_repeat_low") == 3


def test_a_meter_changed_afterwards_did_not_take_the_readings() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    again(bench, PACK.meter, METER)
    standing = {b.code: b.item for b in found(bench, READINGS)}
    assert standing["instrument_picked_late"] == PACK.reading.key


def test_a_tester_changed_afterwards_did_not_take_the_readings() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    again(bench, VEHICLE.tester, A_TESTER)
    assert "instrument_picked_late" in codes(bench, READINGS)


# ---------------------------------------------------------------- before the lid comes off


def at_the_lid() -> Bench:
    bench = an_isolation_bench(LEAK_IN_M3)
    put_quotation(bench)
    put_before_lid(bench)
    return bench


def lid_hold(bench: Bench) -> set[str]:
    found_now = hold_gate((LOCALISATION,), bench.record(), LOCALISATION, LID_HOLD, a_person())
    return {blocker.code for blocker in found_now}


def test_an_amount_raised_after_the_approval_is_approved_again_before_the_lid() -> None:
    bench = at_the_lid()
    assert lid_hold(bench) == set()
    again(bench, QUOTATION, a_quotation("9900"))
    assert lid_hold(bench) == {"localise_quote_version"}
    assert "localise_quote_version" in codes(bench, LOCALISATION)
    without(bench, ANSWER)
    bench.put(ANSWER, "approved", version="2")
    assert lid_hold(bench) == {"localise_quote_nobody"}
    again(bench, QUOTE_HOW, "message")
    again(bench, QUOTE_WHO, "The owner")
    assert lid_hold(bench) == set()


@pytest.mark.parametrize(("kind", "may"), [("shop_default", True), ("maker", False)])
def test_only_the_shops_own_charge_limit_may_be_countersigned(kind: str, may: bool) -> None:
    bench = at_the_lid()
    assert bench.pack is not None
    limit = Figure.model_validate({"value": 20.0, "kind": kind, "source": "sheet 4"})
    bench.pack = bench.pack.model_copy(update={"open_charge_limit_percent": limit})
    again(bench, CHARGE_PERCENT, "80")
    hold = next(h for h in LOCALISATION.holds(bench.record(), LOCALISATION.assess(bench.record())))
    (charge,) = [blocker for blocker in hold.blockers if blocker.code == "localise_charge"]
    assert charge.countersign is may


# ---------------------------------------------------------------- before the last link closes


def test_each_of_two_spares_is_read_at_both_terminals_before_the_last_link() -> None:
    bench = leaking("delivery-van", "M3", "M10")
    bench.put(SPARE_OHM, ">550M", module="M3", pole="pos")
    asked = {
        b.qualifier for b in held(bench, SWAP, "last_link")
        if b.code == "missing" and b.item == SPARE_OHM.key
    }  # fmt: skip
    assert asked == {"module=M3;pole=neg", "module=M10;pole=pos", "module=M10;pole=neg"}


# ---------------------------------------------------------------- before the lid goes on


def test_a_settling_too_short_to_judge_is_no_isolation_before_the_lid() -> None:
    bench = reassembled()
    without(bench, BEFORE_LID.reading)
    bench.put(BEFORE_LID.settling, SHORT, point="String negative", shunt="none")
    blocked = {blocker.code for blocker in held(bench, REASSEMBLY, LID_ON_HOLD)}
    assert "reassembly_isolation_undecided" in blocked


def test_a_settling_too_short_to_judge_is_no_isolation_after_the_lid() -> None:
    bench = reassembled()
    without(bench, AFTER_LID.reading)
    point = "Disconnect socket, side A"
    bench.put(AFTER_LID.settling, SHORT, point=point, shunt="none")
    assert "reassembly_closed_undecided" in codes(bench, REASSEMBLY)


# ---------------------------------------------------------------- before the disconnect goes in


def test_one_pole_of_the_vehicle_read_after_the_repair_is_not_enough() -> None:
    bench = driven()
    outcome = next(e for e in bench.entries if e.item == "isolation_readings.outcome")
    bench.entries[bench.entries.index(outcome)] = replace(outcome, value="both")
    bench.put(AFTER_REPAIR.reading, ">550M", pole="pos", unplugged="nothing")
    blocked = {b.code for b in held(bench, ROAD, DISCONNECT_HOLD)}
    missing = {
        b.qualifier for b in held(bench, ROAD, DISCONNECT_HOLD)
        if b.item == AFTER_REPAIR.reading.key and b.code == "missing"
    }  # fmt: skip
    assert "road_vehicle_isolation" in blocked
    assert missing == {"pole=neg;unplugged=nothing"}
