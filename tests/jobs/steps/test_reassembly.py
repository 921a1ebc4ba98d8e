"""Reassembly: cause, coolant, leads, isolation before and after the lid, and what blocks each."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.entering import enter_gate
from jobs.core.entry import Kind
from jobs.core.flow import gate, sign_gate
from jobs.core.order import items_of
from jobs.core.section import Said
from jobs.steps.fault_localisation.items import LINK_OPENED
from jobs.steps.module_swap import STEP as SWAP
from jobs.steps.module_swap.items import LINKS as SWAP_LINKS
from jobs.steps.reassembly import STEP
from jobs.steps.reassembly.assessment import closed_verdict
from jobs.steps.reassembly.gate import LID_STAYED_ON, REASONS
from jobs.steps.reassembly.items import (
    AFTER_LID,
    BEFORE_LID,
    COOLANT_END,
    COOLANT_GAUGE,
    COOLANT_MIN,
    COOLANT_START,
    GASKET,
    INTERLOCK,
    LID,
    LID_AGAIN,
    LID_HOLD,
    LID_ON,
    LINKS,
    LIVE_HOLD,
    PARTS_IN,
    SEALANT,
    SECOND,
    SENSE_LEADS,
)
from tests.builders import ASTER, MUNK, Bench, a_bench, a_pack, a_person
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
    GAUGE,
    SIDE_A,
    SIDE_B,
    before_lid,
    close_links,
    leaking,
    lid_on,
    localised,
    reassembled,
    swapped,
)


def _leaky(bench: Bench, leak_ohm: float) -> Bench:
    """Give the van again with another leakage before the lid."""
    whole = swapped()
    whole.sign("module_swap")
    before_lid(whole, leak_ohm)
    lid_on(whole)
    bench.entries, bench.now = whole.entries, whole.now
    return bench


def _leads_before_torque(bench: Bench) -> None:
    raw = {"M9 pos": "9", "M10 neg": "9"}
    again(bench, SWAP_LINKS.others.values, raw, stage="2")


def _after(bench: Bench, plain: str, fitted: str, point: str = SIDE_A) -> None:
    again(bench, AFTER_LID.reading, plain, point=point, shunt="none")
    again(bench, AFTER_LID.reading, fitted, point=point, shunt="fitted")


def _sealant(bench: Bench) -> None:
    assert bench.pack is not None
    cure = a_pack("city-hatchback").lid.cure_h
    lid = bench.pack.lid.model_copy(update={"cure_h": cure})
    bench.pack = bench.pack.model_copy(update={"lid": lid})


CASES: tuple[tuple[str, Change], ...] = (
    ("reassembly_coolant_pressure", lambda b: again(b, COOLANT_START, "149")),
    ("reassembly_coolant_time", lambda b: again(b, COOLANT_MIN, "14")),
    ("reassembly_coolant_leaks", lambda b: again(b, COOLANT_END, "150.4")),
    ("reassembly_coolant_gauge", lambda b: again(b, COOLANT_GAUGE, GAUGE | {"due_on": None})),
    ("reassembly_leads_early", _leads_before_torque),
    ("reassembly_parts", lambda b: again(b, PARTS_IN, "45")),
    ("reassembly_isolation_fails", lambda b: _leaky(b, 2e5)),
    ("reassembly_isolation_undecided", lambda b: _leaky(b, 3.53e5)),
    ("reassembly_closed_fails", lambda b: _after(b, "74.9", "50.1")),
    ("reassembly_closed_undecided", lambda b: without(b, AFTER_LID.settled, point=SIDE_A)),
    ("reassembly_isolation_early", lambda b: again(b, SENSE_LEADS)),
    ("reassembly_closed_early", lambda b: again(b, LID_ON)),
    ("reassembly_lid_torque_early", lambda b: again(b, LID_ON)),
    ("reassembly_curing", _sealant),
)


def test_a_whole_reassembly_can_be_signed() -> None:
    bench = reassembled()
    assert found(bench, STEP) == ()
    assert sign_gate((STEP,), bench.record(), STEP, a_person(ASTER)) == ()


def test_every_value_can_be_entered_in_the_order_of_the_work() -> None:
    assert entered_in_order(reassembled(), STEP) == []


@pytest.mark.parametrize(("code", "change"), CASES, ids=named(CASES))
def test_each_blocker_stands_when_its_point_fails(code: str, change: Change) -> None:
    bench = reassembled()
    change(bench)
    standing = [blocker for blocker in found(bench, STEP) if blocker.code == code]
    assert standing
    asked = {item.key for item in items_of(STEP, bench.record())}
    assert all(blocker.item in asked and not blocker.countersign for blocker in standing)


def test_every_reason_is_shown_by_a_case_and_none_may_be_countersigned() -> None:
    assert {code for code, _ in CASES} | {LID_STAYED_ON.code} == {r.code for r in REASONS}
    assert not any(reason.countersign for reason in REASONS)


def test_the_lid_hold_asks_for_everything_that_comes_before_it() -> None:
    bench = reassembled()
    assert held(bench, STEP, LID_HOLD) == ()
    without(bench, BEFORE_LID.reading)
    without(bench, PARTS_IN)
    missing = {blocker.item for blocker in held(bench, STEP, LID_HOLD)}
    assert missing == {BEFORE_LID.reading.key, PARTS_IN.key}


def test_a_leaking_pack_never_gets_its_lid_on() -> None:
    bench = _leaky(a_bench(), 2e5)
    assert "reassembly_isolation_fails" in {b.code for b in held(bench, STEP, LID_HOLD)}
    assert held(reassembled(), STEP, LIVE_HOLD) == ()


def test_the_lid_torque_is_asked_at_every_stage() -> None:
    bench = reassembled()
    without(bench, LID.values, stage="2")
    assert "torque_missing" in codes(bench, STEP)


def test_the_cure_ends_on_the_servers_clock() -> None:
    bench = reassembled()
    _sealant(bench)
    lid = bench.record().given(LID_ON)
    assert lid is not None
    (curing,) = [b for b in found(bench, STEP) if b.code == "reassembly_curing"]
    assert curing.params == {"until_at": "2026-03-02T20:00:00+00:00"}
    bench.wait(hours=12)
    assert "reassembly_curing" not in codes(bench, STEP)


def test_near_zero_with_the_lid_on_passes_only_beside_a_pass_before_it() -> None:
    bench = reassembled()
    _after(bench, "0.00", "0.00")
    _after(bench, "0.00", "0.00", SIDE_B)
    a = STEP.assess(bench.record())
    assert (a.after_lid.verdict, a.closed_verdict) == ("undecided", "pass")
    assert codes(bench, STEP) == {"second_stale"}
    undecided = replace(a.before_lid, verdict="undecided")
    assert closed_verdict(undecided, a.after_lid, 1.8e5, readable=True) == "undecided"


def test_near_zero_at_one_section_does_not_hide_a_doubtful_other_one() -> None:
    bench = reassembled()
    _after(bench, "0.00", "0.00")
    _after(bench, "-72.8", "-39.00", SIDE_B)
    a = STEP.assess(bench.record())
    assert a.closed_verdict == "undecided"
    assert "reassembly_closed_undecided" in codes(bench, STEP)


def test_near_zero_that_did_not_settle_decides_nothing() -> None:
    bench = reassembled()
    _after(bench, "0.00", "0.00")
    without(bench, AFTER_LID.settled, point=SIDE_A)
    assert STEP.assess(bench.record()).closed_verdict == "undecided"


def test_a_pack_without_a_point_on_the_closed_enclosure_stands_on_the_reading_before() -> None:
    a = STEP.assess(reassembled().record())
    assert closed_verdict(a.before_lid, a.after_lid, 1.8e5, readable=False) == "pass"


def test_a_section_in_doubt_before_is_set_beside_what_it_reads_now() -> None:
    bench = reassembled()
    (doubt,) = STEP.assess(bench.record()).doubts
    assert (doubt.section, doubt.known_now) == ("M1 to M7", True)
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert "Sections that were in doubt" in {table.title for table in section.tables}


def test_links_opened_without_a_swap_close_here_behind_their_own_hold() -> None:
    bench = localised(None)
    bench.sign("module_swap", outcome="not_needed")
    assert SWAP.skip(bench.record()) is not None
    before_lid(bench)
    assert {hold.slug for hold in STEP.holds(bench.record(), STEP.assess(bench.record()))} == {
        LIVE_HOLD,
        "last_link",
        LID_HOLD,
    }
    assert LINKS.last_after.key in {b.item for b in held(bench, STEP, LID_HOLD)}
    close_links(bench, LINKS, STEP.slug)
    assert held(bench, STEP, "last_link") == ()


def test_the_second_person_signs_last() -> None:
    bench = reassembled()
    again(bench, PARTS_IN, "46")
    assert codes(bench, STEP) == {"second_stale", "hold_not_passed"}
    without(bench, SECOND)
    bench.hold("reassembly", "lid_on")
    assert codes(bench, STEP) == {"missing"}
    bench.put(SECOND, by=MUNK)
    assert found(bench, STEP) == ()
    without(bench, SECOND)
    bench.put(SECOND, by=ASTER)
    assert "second_same" in {
        b.code for b in sign_gate((STEP,), bench.record(), STEP, a_person(ASTER))
    }


def test_a_lid_taken_off_again_after_reopening_opens_every_pole() -> None:
    bench = reassembled()
    bench.sign("reassembly")
    voids = [item.key for item in STEP.items(bench.record()) if bench.record().has(item)]
    bench.add(Kind.REOPEN, {"voids": voids, "supersedes": ["reassembly"], "reason": "seal"})
    assert LID_AGAIN in STEP.items(bench.record())
    assert not bench.record().pack_open
    bench.put(LID_AGAIN)
    assert bench.record().pack_open
    offered = next(i for i in STEP.items(bench.record()) if i.key == BEFORE_LID.reading.key).offered
    assert "point=String negative;shunt=none" in offered


def test_nothing_that_is_undecided_can_be_signed_as_not_excluded_here() -> None:
    keys = {item.key for item in STEP.items(reassembled().record())}
    assert BEFORE_LID.not_excluded.key not in keys
    assert AFTER_LID.not_excluded.key not in keys


def test_a_lid_item_cannot_be_entered_before_its_hold_point() -> None:
    bench = localised()
    blockers = enter_gate((STEP,), bench.record(), key=LID_ON.key, qualifier="", by=a_person(ASTER))
    assert "hold_not_passed" in {blocker.code for blocker in blockers}


def test_nothing_is_reassembled_where_the_lid_stayed_on() -> None:
    assert STEP.skip(a_bench().record()) is LID_STAYED_ON
    assert STEP.skip(localised().record()) is None
    assert "missing" in {b.code for b in gate((STEP,), localised().record(), STEP)}
    assert LINK_OPENED.key not in {item.key for item in STEP.items(localised().record())}


def test_the_customer_reads_the_cause_and_that_insulation_passed() -> None:
    bench = reassembled()
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    words = [part.text.format(**part.params) for part in section.plain if isinstance(part, Said)]
    assert "What caused it: A chafed coolant hose above M10." in words
    assert section.verdict == "pass"
    assert section.pictures[0].title == "Isolation before and after"


def test_a_pack_asks_only_what_it_has() -> None:
    keys = {item.key for item in STEP.items(leaking("city-hatchback", "M3").record())}
    assert not keys & {COOLANT_START.key, COOLANT_GAUGE.key}
    assert {SEALANT.key, GASKET.key} <= keys
    bench = leaking("minibus", "M3")
    assert bench.pack is not None
    lid = bench.pack.lid.model_copy(update={"gasket_part": None, "bolts": None})
    changes = {"sense_lead_order": (), "interlock": False, "lid": lid}
    bench.pack = bench.pack.model_copy(update=changes)
    keys = {item.key for item in STEP.items(bench.record())}
    assert not keys & {SENSE_LEADS.key, INTERLOCK.key, GASKET.key, SEALANT.key, LID.values.key}
    assert STEP.assess(bench.record()).lid is None


def test_a_leaking_pack_sends_back_to_localisation_and_says_so() -> None:
    bench = _leaky(a_bench(), 2e5)
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert section.verdict == "fail"
    assert section.advice[0].text.startswith("Go back to fault localisation")


def test_what_is_not_decided_yet_is_said_to_be_so() -> None:
    bench = _leaky(a_bench(), 3.53e5)
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert section.verdict == "undecided"
    without(bench, BEFORE_LID.reading)
    (doubt,) = STEP.assess(bench.record()).doubts
    assert (doubt.known_now, doubt.now_ohm_low) == (False, None)
    tables = STEP.section(bench.record(), STEP.assess(bench.record())).tables
    (row,) = next(table.rows for table in tables if table.title.startswith("Sections that were"))
    assert row[2] == Said("not known yet")


WHOLE = reassembled()


@given(st.sets(st.integers(0, len(WHOLE.entries) - 1)))
@settings(max_examples=20)
def test_any_part_of_the_entries_can_be_judged_and_said(kept: set[int]) -> None:
    speaks(WHOLE, STEP, kept)


def test_everything_the_hold_point_needs_is_asked_above_the_first_item_behind_it() -> None:
    record = localised().record()
    asked = STEP.items(record)
    keys = [item.key for item in asked]
    behind = next(n for n, item in enumerate(asked) if item.hold == LIVE_HOLD)
    work = next(h for h in STEP.holds(record, STEP.assess(record)) if h.slug == LIVE_HOLD)
    assert {BEFORE_LID.meter.key, BEFORE_LID.shunt.key} <= {need.key for need in work.needs}
    assert all(keys.index(need.key) < behind for need in work.needs)
    assert len(set(keys)) == len(keys)
