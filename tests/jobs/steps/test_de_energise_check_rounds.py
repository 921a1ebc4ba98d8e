"""De-energise check: kinds of pack, slow discharge, rounds after one another, and the section."""

import re
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.entering import enter_gate
from jobs.core.entry import Kind
from jobs.core.item import Item
from jobs.core.reason import Blocker
from jobs.core.seal import sealed
from jobs.steps.de_energise_check import STEP
from jobs.steps.de_energise_check.gate import REASONS
from jobs.steps.de_energise_check.items import (
    AFTER,
    AIR_TEST,
    BEFORE,
    CABLE,
    CONTACTORS,
    DEAD,
    DISCHARGE,
    DISCONNECT,
    GLOVES,
    INDICATOR,
    KEYS,
    LABEL,
    LOCK,
    METER,
    NEW_ROUND,
    SECOND,
    SUPPLY,
    UNCHANGED,
    UNIT,
    readings_asked,
    round_now,
)
from jobs.steps.intake.items import ARRIVED, PACK_ALONE, TROUBLE_CODES
from packs.definition import from_toml, to_toml
from packs.physics.absence import PAIRS
from tests.builders import (
    ASTER,
    MUNK,
    REVISION,
    Bench,
    a_bench,
    a_pack,
    a_person,
    an_equipment,
)
from tests.jobs.steps.de_energise_scene import FALLING, METER_RATINGS, REFITTED, Scene

# ---------------------------------------------------------------- the pack and its definition


def test_without_a_definition_nothing_can_be_proven() -> None:
    scene = Scene(bench=Bench()).whole()
    assert scene.codes() == ["proof_no_pack"]
    assert "proof_no_pack" in scene.gate()


def test_a_definition_chosen_after_the_label_was_compared_asks_for_it_again() -> None:
    scene = Scene()
    scene.bench.add(Kind.REVISION, {"revision": REVISION})
    scene.whole().prove()
    assert scene.gate() == []
    scene.bench.add(Kind.REVISION, {"revision": REVISION})
    assert "proof_label_again" in scene.gate()
    assert "proof_label_again" in scene.codes()


def a_pack_switched_by(kind: str) -> Bench:
    pack = a_pack()
    text = to_toml(pack).replace('kind = "string_plug"', f'kind = "{kind}"')
    text = re.sub(r'after_module = "M7",?\s*', "", text)
    return Bench(pack=from_toml(text))


@pytest.mark.parametrize("kind", ["low_voltage_loop", "none"])
def test_without_a_plug_in_the_string_contactors_count_as_welded(kind: str) -> None:
    scene = Scene(bench=a_pack_switched_by(kind)).whole()
    labels = {item.key: item.label for item in STEP.items(scene.record)}
    assert [b.item for b in scene.judged().blockers] == [CONTACTORS.key]
    assert labels[DISCONNECT.key] != DISCONNECT.label
    scene.bench.put(CONTACTORS)
    scene.strike(SECOND).second()
    assert scene.codes() == []
    section = STEP.section(scene.record, STEP.assess(scene.record))
    assert any("contactors" in warning.text for warning in section.warnings)


def test_a_plug_in_the_string_needs_no_word_about_contactors() -> None:
    assert CONTACTORS not in STEP.items(Scene().record)


def test_a_pack_alone_is_proven_at_its_own_connector() -> None:
    scene = Scene()
    scene.bench.put(ARRIVED, PACK_ALONE)
    scene.prepare()
    for item in (SUPPLY, DISCONNECT):
        scene.bench.put(item, round="1")
    scene.bench.put(LOCK, "Lock 3", round="1")
    scene.protect().read().second()
    assert scene.codes() == []
    assert len(scene.record.live[DEAD.key]) == 3


# ---------------------------------------------------------------- discharge too slow


def a_slow_vehicle() -> Scene:
    scene = Scene()
    scene.bench.put(TROUBLE_CODES, "P0AA6, P0C76")
    return scene.prepare().isolate().protect()


def discharge(scene: Scene, rows: Any, **changed: Any) -> Scene:
    scene.bench.put(METER, an_equipment("meter", **METER_RATINGS | changed), round="1")
    scene.bench.put(DISCHARGE, rows, round="1")
    return scene


def test_a_stored_code_for_slow_discharge_asks_for_the_discharge() -> None:
    scene = a_slow_vehicle().read().second()
    assert {"missing", "proof_discharge_missing"} == set(scene.codes())


def test_a_discharge_down_to_the_limit_satisfies_the_code() -> None:
    assert discharge(a_slow_vehicle(), FALLING).read().second().codes() == []


def test_a_discharge_that_stops_too_high_blocks_and_says_how_long() -> None:
    scene = discharge(a_slow_vehicle(), FALLING[:4]).read().second()
    assert scene.codes() == ["proof_discharge_high"]
    assert "more" in str(scene.judged().blockers[0].params["why"])


def test_a_discharge_of_two_readings_is_not_judged() -> None:
    scene = discharge(a_slow_vehicle(), FALLING[-2:]).read().second()
    assert "at least 3" in str(scene.judged().blockers[0].params["why"])


def test_a_discharge_without_its_meter_is_not_judged() -> None:
    scene = discharge(a_slow_vehicle(), FALLING).read().strike(METER).second()
    assert "proof_discharge_high" in scene.codes()


def test_a_discharge_that_was_taken_counts_even_where_it_was_not_asked() -> None:
    scene = discharge(Scene().prepare().isolate().protect(), FALLING[:4]).read().second()
    assert scene.codes() == ["proof_discharge_high"]


def test_the_discharge_is_read_with_a_meter_rated_for_the_pack() -> None:
    scene = discharge(a_slow_vehicle(), FALLING, rated_v=300).read().second()
    assert scene.codes() == ["proof_gear_rating"]


def test_a_discharge_from_before_the_isolation_does_not_count() -> None:
    scene = discharge(a_slow_vehicle(), FALLING)
    scene.bench.wait(minutes=1)
    scene.strike(DISCONNECT).bench.put(DISCONNECT, round="1")
    assert "proof_discharge_missing" in scene.read().second().codes()


# ---------------------------------------------------------------- rounds


def renewed(scene: Scene, name: str = "2") -> Scene:
    scene.wait_min = 0.0
    return scene.air_test(name).read(name).second(name)


def test_a_proof_that_ran_out_is_renewed_with_one_look_at_the_isolation() -> None:
    scene = Scene().whole().prove()
    scene.bench.wait(hours=4)
    assert round_now(scene.record) == "2"
    assert UNCHANGED.key in {b.item for b in scene.judged("2").blockers}
    scene.bench.put(UNCHANGED, round="2")
    assert renewed(scene).codes("2") == []


def test_the_look_at_the_isolation_comes_before_the_readings() -> None:
    scene = renewed(Scene().whole().prove().end("taken_over"))
    scene.bench.put(UNCHANGED, round="2")
    assert scene.codes("2") == ["proof_order", "proof_second_early"]


def test_what_was_undone_within_the_same_round_blocks_until_it_is_done_again() -> None:
    scene = Scene().whole()
    scene.bench.put(REFITTED)
    undone = [b.item for b in scene.judged().blockers if b.code == "proof_undone"]
    assert undone == [KEYS.key, CABLE.key, SUPPLY.key, DISCONNECT.key, LOCK.key]
    assert "proof_undone" in scene.gate()


def test_another_technician_taking_over_undoes_nothing() -> None:
    scene = Scene().whole().prove().end("taken_over")
    scene.bench.put(UNCHANGED, round="2")
    assert renewed(scene).codes("2") == []


@pytest.mark.parametrize("cause", ["keys_moved", "supply_connected", "charging_cable"])
def test_what_was_undone_is_done_again_and_waited_for_again(cause: str) -> None:
    scene = Scene().whole().prove().end(cause)
    isolating = {KEYS.key, CABLE.key, SUPPLY.key, DISCONNECT.key, LOCK.key}
    missing = {b.item for b in renewed(scene).judged("2").blockers if b.code == "missing"}
    assert missing == isolating
    early = {"proof_wait", "proof_early", "proof_second_early"}
    assert set(scene.isolate("2").codes("2")) == early


def test_a_disconnect_refitted_after_the_proof_ran_out_is_noticed_too() -> None:
    scene = Scene().whole().prove().end("taken_over")
    scene.bench.put(REFITTED)
    missing = {b.item for b in renewed(scene).judged("2").blockers if b.code == "missing"}
    assert DISCONNECT.key in missing


def test_isolated_again_and_waited_for_again_it_is_proven_again() -> None:
    scene = Scene().whole().prove()
    scene.bench.put(REFITTED)
    scene.isolate("2").air_test("2").read("2").second("2")
    assert scene.codes("2") == []


def test_a_renewal_needs_a_new_air_test() -> None:
    scene = Scene(wait_min=0.0).whole().prove().end("taken_over")
    scene.bench.put(UNCHANGED, round="2")
    missing = {b.item for b in scene.read("2").second("2").judged("2").blockers}
    assert AIR_TEST.key in missing


def test_a_round_is_not_proven_twice() -> None:
    scene = Scene().whole().prove()
    assert "proof_round_over" in scene.codes()
    assert "proof_round_over" in scene.end("taken_over").codes()


def test_a_spoiled_round_is_left_as_it_is_and_a_new_one_begun() -> None:
    scene = Scene(before="300").whole()
    scene.bench.put(NEW_ROUND, round="1")
    scene.before, scene.wait_min = "399.5", 0.0
    scene.bench.put(UNCHANGED, round="2")
    assert scene.read("2").second("2").codes("2") == []
    assert "proof_round_over" in scene.codes("1")


def test_while_a_proof_holds_its_round_is_shown_and_a_new_one_can_be_begun() -> None:
    scene = Scene().whole().prove()
    assert round_now(scene.record) == "1"
    scene.bench.put(NEW_ROUND, round="1")
    assert round_now(scene.record) == "2"
    assert STEP.assess(scene.record).round.name == "1"


def test_the_items_of_the_round_are_those_that_can_be_entered_now() -> None:
    scene = Scene().whole().prove().end("keys_moved")
    by_key = {item.key: item for item in STEP.items(scene.record)}
    assert by_key[DISCONNECT.key].expected == ("round=2",)
    assert by_key[DEAD.key].expected == readings_asked(scene.record, "2")
    assert by_key[GLOVES.key].offered == ("round=2",)
    assert not by_key[GLOVES.key].needed


# ---------------------------------------------------------------- the room as a whole


def test_every_entry_of_two_rounds_is_let_in_at_its_moment() -> None:
    scene = Scene().whole().prove().end("keys_moved")
    scene.isolate("2").air_test("2").read("2").second("2")
    whole, refused = scene.bench.entries, list[Blocker]()
    for index, entry in enumerate(whole):
        scene.bench.entries, scene.bench.now = whole[:index], entry.at
        if entry.kind is Kind.VALUE:
            place = {"key": entry.item, "qualifier": entry.qualifier}
            refused += enter_gate((STEP,), scene.record, by=a_person(entry.person), **place)
    assert refused == []


def test_a_reading_nobody_asked_for_is_not_let_in() -> None:
    place = {"key": DEAD.key, "qualifier": "pair=pos-neg;point=Charger;round=1"}
    refused = enter_gate((STEP,), Scene().record, by=a_person(), **place)
    assert [blocker.code for blocker in refused] == ["not_offered"]


def _entries() -> list[tuple[Item[Any], Any, dict[str, str]]]:
    scene = Scene()
    place = {"round": "1"}
    ones: list[tuple[Item[Any], Any]] = [
        (KEYS, ASTER),
        (LOCK, "Lock 14"),
        (GLOVES, scene.gloves),
        (INDICATOR, scene.indicator),
        (UNIT, scene.unit),
        (METER, an_equipment("meter", **METER_RATINGS)),
        (DISCHARGE, FALLING),
        (BEFORE, "400"),
        (AFTER, "400"),
        (SECOND, True),
        (DISCONNECT, True),
        (CABLE, True),
        (SUPPLY, True),
        (AIR_TEST, True),
        (NEW_ROUND, True),
    ]
    found = [(LABEL, True, {}), *((item, raw, place) for item, raw in ones)]
    for index, typed in enumerate(("0.1", ">3", "<0", "-400")):
        for pair in (*PAIRS, "odd"):
            point = {"point": f"P{index}", "pair": pair}
            found.append((DEAD, typed, place | point))
    return found


ENTRIES = _entries()


@given(
    st.sets(st.integers(0, len(ENTRIES) - 1)), st.sampled_from([None, "delivery-van", "minibus"])
)
@settings(max_examples=25)
def test_any_part_of_the_entries_can_be_assessed_shown_and_judged(
    chosen: set[int], pack: str | None
) -> None:
    bench = Bench() if pack is None else a_bench(pack)
    for index in sorted(chosen):
        item, raw, parts = ENTRIES[index]
        bench.put(item, raw, by=MUNK if item is SECOND else ASTER, **parts)
    record = bench.record()
    result = STEP.assess(record)
    sealed(result)
    STEP.section(record, result)
    assert STEP.prove is not None
    judged = STEP.prove(record, "1")
    assert judged.blockers
    assert STEP.blockers(record, result)


def test_readings_without_a_proof_in_force_are_never_shown_as_passed() -> None:
    read = discharge(a_slow_vehicle(), FALLING).read().second().record
    assert STEP.section(read, STEP.assess(read)).verdict == "undecided"
    proven = discharge(a_slow_vehicle(), FALLING).read().second().prove().record
    later = replace(proven, now=proven.now + timedelta(hours=5))
    assert STEP.section(later, STEP.assess(later)).verdict == "undecided"


def test_the_section_tells_what_was_read_with_its_limit_and_who_proved_it() -> None:
    record = discharge(a_slow_vehicle(), FALLING).read().second().prove().record
    section = STEP.section(record, STEP.assess(record))
    facts = {fact.label: fact for fact in section.facts}
    point = facts[a_pack().proof_points[0].name]
    assert (section.verdict, point.verdict) == ("pass", "pass")
    assert point.limit_kind == "shop_default"
    assert "Proven by" in facts
    assert len(section.tables[0].rows) == 6
    assert section.plain
    assert any("P0C76" in str(warning.params) for warning in section.warnings)


def test_the_section_of_a_live_point_says_to_stay_away() -> None:
    record = Scene(reading="48").whole().record
    section = STEP.section(record, STEP.assess(record))
    assert section.verdict == "fail"
    assert any("Keep away" in advice.text for advice in section.advice)
    assert section.plain == ()


def test_a_discharge_still_running_is_told_with_its_seconds() -> None:
    record = discharge(a_slow_vehicle(), FALLING[:4]).record
    section = STEP.section(record, STEP.assess(record))
    assert any("left_s" in advice.params for advice in section.advice)


def test_nothing_here_can_be_countersigned_and_there_is_no_hold_point() -> None:
    record = Scene().whole().record
    assert not any(reason.countersign for reason in REASONS)
    assert STEP.holds(record, STEP.assess(record)) == ()


def test_every_reason_has_its_own_code() -> None:
    codes = [reason.code for reason in REASONS]
    assert len(codes) == len(set(codes))
