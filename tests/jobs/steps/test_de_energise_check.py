"""De-energise check: one round of the proof of absence of voltage, and what blocks it."""

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from jobs.core.entry import Kind
from jobs.core.flow import proof_gate, sign_gate
from jobs.core.item import Item, qualifier_of
from jobs.core.paper import on_paper
from jobs.core.reason import Blocker
from jobs.steps.de_energise_check import STEP
from jobs.steps.de_energise_check.items import (
    AFTER,
    AIR_TEST,
    AREA,
    BEFORE,
    CABLE,
    DEAD,
    DISCONNECT,
    GLOVES,
    INDICATOR,
    KEYS,
    LABEL,
    LOCK,
    SECOND,
    SHIELD,
    SUPPLY,
    TOOLS,
    UNIT,
    readings_asked,
)
from packs.physics.absence import PAIRS
from tests.builders import (
    LORNE,
    MUNK,
    a_pack,
    a_person,
    an_equipment,
)
from tests.jobs.steps.de_energise_scene import Scene


def changed(scene: Scene, name: str, value: Any) -> Scene:
    setattr(scene, name, value)
    return scene


def said(blockers: tuple[Blocker, ...]) -> list[str]:
    return [blocker.code for blocker in blockers]


# ---------------------------------------------------------------- the proof as it should be


def test_a_whole_round_is_dead_and_holds_for_the_hours_of_the_definition() -> None:
    scene = Scene().whole()
    judged, blockers = proof_gate((STEP,), scene.record, round_name="1", by=a_person())
    assert blockers == ()
    assert judged is not None
    assert judged.verdict == "dead"
    assert judged.until == scene.bench.now + timedelta(hours=4)
    assert judged.second == a_person(MUNK)


def test_the_step_waits_for_the_proof_to_be_written() -> None:
    scene = Scene().whole()
    assert scene.gate() == ["proof_not_written"]
    scene.prove()
    assert sign_gate((STEP,), scene.record, STEP, a_person()) == ()


def test_a_proof_that_has_run_out_is_not_enough_to_sign() -> None:
    scene = Scene().whole().prove()
    scene.bench.wait(hours=4)
    assert "proof_not_written" in scene.gate()


def test_the_second_person_may_not_be_the_technician() -> None:
    scene = Scene().whole()
    _, blockers = proof_gate((STEP,), scene.record, round_name="1", by=a_person(MUNK))
    assert "second_same" in said(blockers)


def test_an_unqualified_second_person_does_not_count() -> None:
    scene = Scene().prepare().isolate().protect().read().second(by=LORNE)
    _, blockers = proof_gate((STEP,), scene.record, round_name="1", by=a_person())
    assert "second_unqualified" in said(blockers)


def test_somebody_unqualified_may_not_sign_the_proof() -> None:
    _, blockers = proof_gate((STEP,), Scene().whole().record, round_name="1", by=a_person(LORNE))
    assert {"signer_role", "signer_unqualified"} <= set(said(blockers))


# ---------------------------------------------------------------- what is missing


@pytest.mark.parametrize(
    "item",
    [
        LABEL,
        AREA,
        KEYS,
        CABLE,
        SUPPLY,
        DISCONNECT,
        LOCK,
        GLOVES,
        AIR_TEST,
        SHIELD,
        TOOLS,
        INDICATOR,
        UNIT,
        BEFORE,
        DEAD,
        AFTER,
        SECOND,
    ],
    ids=lambda item: item.key.partition(".")[2],
)
def test_everything_the_round_rests_on_is_missed(item: Item[Any]) -> None:
    scene = Scene().whole().strike(item)
    missing = {b.item for b in scene.judged().blockers if b.code == "missing"}
    assert missing == {item.key}
    assert "missing" in scene.gate()


def test_every_pair_at_every_point_is_asked() -> None:
    record = Scene().record
    points = {point.name for point in a_pack().proof_points}
    asked = {qualifier_of(round="1", point=name, pair=pair) for name in points for pair in PAIRS}
    assert set(readings_asked(record, "1")) == asked


# ---------------------------------------------------------------- what was read


def test_a_live_point_blocks_and_is_named() -> None:
    scene = Scene().prepare().isolate().protect().read()
    point = a_pack().proof_points[1].name
    qualifier = qualifier_of(round="1", point=point, pair="pos-neg")
    scene.strike(DEAD, qualifier).one(qualifier, "-12.4")
    live = [b for b in scene.judged().blockers if b.code == "proof_live"]
    assert scene.judged().verdict == "live"
    assert [b.params["point"] for b in live] == [point]


def test_a_reading_that_may_reach_the_limit_is_live() -> None:
    assert "proof_live" in Scene(reading="4.8").whole().codes()
    assert Scene(reading="4.6").whole().codes() == []


def test_more_than_never_shows_absence() -> None:
    assert "proof_live" in Scene(reading=">1").whole().codes()


def test_a_live_reading_at_a_point_nobody_asked_for_counts_too() -> None:
    scene = Scene().whole().one("pair=pos-neg;point=Charger;round=1", "300").second()
    assert scene.judged().verdict == "live"


def test_a_reading_of_an_unknown_pair_blocks() -> None:
    scene = Scene().prepare().isolate().protect().read()
    scene.one("pair=neg-neg;point=Charger;round=1", "300").second()
    assert "proof_wrong_pair" in scene.codes()


@pytest.mark.parametrize(("end", "typed"), [("before", "340"), ("after", "0.3")])
def test_a_proof_off_the_known_source_voids_the_round(end: str, typed: str) -> None:
    scene = changed(Scene(), end, typed).whole()
    assert scene.codes() == ["proof_off_source"]
    assert scene.judged().verdict == "void"


def test_an_indicator_without_digits_enters_below() -> None:
    lamps = an_equipment("two_pole_indicator", rated_v=1000, has_digits=False, below_v=5)
    assert Scene(indicator=lamps, reading="<5").whole().codes() == []
    assert "proof_no_digits" in Scene(indicator=lamps, reading="0").whole().codes()


def test_an_indicator_cannot_be_entered_finer_than_its_lowest_step() -> None:
    lamps = an_equipment("two_pole_indicator", rated_v=1000, has_digits=False, below_v=12)
    scene = Scene(indicator=lamps, reading="<2").whole()
    assert "proof_void" in scene.codes()
    assert scene.judged().verdict == "void"


def test_a_bound_of_zero_is_refused_in_words() -> None:
    assert "proof_void" in Scene(reading="<0").whole().codes()


# ---------------------------------------------------------------- time and order


def test_the_wait_is_counted_from_the_last_isolating_action() -> None:
    scene = Scene(wait_min=0.0, gap_min=0.0).prepare().isolate().protect().read().second()
    assert {"proof_wait", "proof_early"} == set(scene.codes())
    wait = next(b for b in scene.judged().blockers if b.code == "proof_wait")
    assert wait.params["until_at"] == (scene.bench.now + timedelta(minutes=10)).isoformat()


def test_the_wait_is_not_shortened_when_the_clocks_are_put_forward() -> None:
    zone = ZoneInfo("Europe/Vienna")
    scene = Scene(wait_min=0.0).prepare()
    scene.bench.now = datetime(2026, 3, 29, 1, 55, tzinfo=zone)
    scene.isolate().protect()
    scene.bench.now = datetime(2026, 3, 29, 3, 1, tzinfo=zone)
    assert set(scene.read().second().codes()) == {"proof_early"}


def test_readings_before_the_wait_was_over_do_not_count_afterwards() -> None:
    scene = Scene(wait_min=9.0).whole()
    assert set(scene.codes()) == {"proof_early"}


def test_isolating_again_after_the_readings_makes_them_too_early() -> None:
    scene = Scene().whole().strike(DISCONNECT)
    scene.bench.put(DISCONNECT, round="1")
    assert {"proof_wait", "proof_early"} <= set(scene.codes())


def test_the_two_proofs_lie_within_the_minutes_allowed() -> None:
    assert Scene(gap_min=10.0).whole().codes() == []
    assert Scene(gap_min=10.1).whole().codes() == ["proof_gap"]


def test_old_readings_do_not_make_a_new_proof() -> None:
    scene = Scene().whole()
    scene.bench.wait(minutes=11)
    assert scene.codes() == ["proof_stale"]


def test_an_instrument_changed_after_the_first_proof_is_noticed() -> None:
    scene = Scene().prepare().isolate().protect().read().strike(INDICATOR)
    scene.bench.put(INDICATOR, scene.indicator, round="1")
    scene.second()
    assert scene.codes() == ["proof_instrument_changed"]


def test_a_reading_after_the_second_proof_is_out_of_order() -> None:
    scene = Scene().prepare().isolate().protect().read()
    qualifier = readings_asked(scene.record, "1")[0]
    scene.strike(DEAD, qualifier).one(qualifier, "0.1").second()
    assert scene.codes() == ["proof_order"]


def test_an_air_test_after_the_readings_is_out_of_order() -> None:
    scene = Scene().prepare().isolate().protect().read().strike(AIR_TEST).air_test().second()
    assert scene.codes() == ["proof_order"]


def test_the_second_person_signs_after_the_last_reading() -> None:
    scene = Scene().prepare().isolate().protect().read().second()
    scene.strike(AFTER).bench.put(AFTER, "399.5", round="1")
    assert scene.codes() == ["proof_second_early"]


# ---------------------------------------------------------------- what was used


@pytest.mark.parametrize("name", ["indicator", "unit", "gloves"])
@pytest.mark.parametrize("due_on", ["2026-03-01", None])
def test_gear_past_its_date_or_without_one_blocks(name: str, due_on: str | None) -> None:
    gear = {**getattr(Scene(), name), "due_on": due_on}
    lapsed = "live_gloves_lapsed" if name == "gloves" else "proof_gear_lapsed"
    assert changed(Scene(), name, gear).whole().codes() == [lapsed]


@pytest.mark.parametrize(
    ("name", "rating"),
    [("indicator", "rated_v"), ("unit", "output_v"), ("gloves", "max_dc_v"), ("tools", "rated_v")],
)
def test_gear_rated_below_the_pack_blocks(name: str, rating: str) -> None:
    gear = getattr(Scene(), name)
    low = {**gear, "ratings": {**gear["ratings"], rating: 350}}
    under = "live_gloves_rating" if name == "gloves" else "proof_gear_rating"
    assert under in changed(Scene(before="350", after="350"), name, low).whole().codes()


def test_a_shield_taken_out_of_use_blocks() -> None:
    gone = an_equipment("face_shield", due_on=None) | {"withdrawn": True}
    assert Scene(shield=gone).whole().codes() == ["proof_gear_lapsed"]


@pytest.mark.parametrize("name", ["indicator", "unit", "gloves", "tools"])
def test_gear_withdrawn_during_the_round_blocks(name: str) -> None:
    scene = Scene().whole()
    scene.bench.add(Kind.WITHDRAW, {"id": getattr(scene, name)["id"], "reason": "dropped"})
    assert scene.codes() == ["equipment_withdrawn"]


def test_the_wearer_makes_the_air_test() -> None:
    scene = Scene().prepare().isolate().protect().strike(AIR_TEST).air_test(by=MUNK).read().second()
    assert scene.codes() == ["live_air_test_other"]


def test_an_air_test_of_another_day_does_not_count() -> None:
    scene = Scene(wait_min=13 * 60).whole()
    assert scene.codes() == ["live_air_test_old"]


def test_gloves_and_their_air_test_are_never_taken_from_paper() -> None:
    assert [on_paper(item) for item in (GLOVES, AIR_TEST, SHIELD)] == [False, False, True]
