"""Before live work: gloves, air test, face shield, second person."""

from typing import Any

import pytest

from jobs.core.entry import Kind
from jobs.core.item import Item
from jobs.core.live_work import REASONS, live_work_blockers, live_work_items
from jobs.core.paper import on_paper
from tests.builders import ASTER, LORNE, MUNK, Bench, a_bench, an_equipment

LIVE = live_work_items("module_swap")
GOOD: dict[str, Any] = {"glove_class": "0", "max_dc_v": 1500}


def a_ready(
    gloves: Any = None, shield: Any = None, *, tester: str = ASTER, second: str = MUNK
) -> Bench:
    bench = a_bench()
    bench.put(LIVE.gloves, gloves or an_equipment("gloves", **GOOD))
    bench.put(LIVE.air_test, by=tester)
    bench.put(LIVE.shield, shield or an_equipment("face_shield", due_on=None, marking="A"))
    bench.put(LIVE.second, by=second)
    return bench


def codes(bench: Bench) -> list[str]:
    return [blocker.code for blocker in live_work_blockers(bench.record(), LIVE)]


def test_protected_and_not_alone_nothing_blocks() -> None:
    assert codes(a_ready()) == []


def test_nothing_entered_leaves_the_missing_items_to_the_hold_point() -> None:
    assert codes(a_bench()) == []


def test_the_items_are_named_after_their_step() -> None:
    assert [item.key for item in LIVE] == [
        "module_swap.live_gloves",
        "module_swap.live_air_test",
        "module_swap.live_shield",
        "module_swap.live_second",
    ]


@pytest.mark.parametrize("due_on", ["2026-03-01", None])
def test_gloves_past_their_test_or_without_one_block(due_on: str | None) -> None:
    assert codes(a_ready(an_equipment("gloves", due_on=due_on, **GOOD))) == ["live_gloves_lapsed"]


def test_gloves_rated_below_the_pack_block() -> None:
    low = an_equipment("gloves", glove_class="00", max_dc_v=300)
    assert codes(a_ready(low)) == ["live_gloves_rating"]


def test_an_air_test_and_a_promise_of_another_day_do_not_count() -> None:
    bench = a_ready()
    bench.wait(hours=12)
    assert codes(bench) == []
    bench.wait(minutes=1)
    assert codes(bench) == ["live_air_test_old", "live_second_old"]


def test_the_wearer_makes_the_air_test() -> None:
    assert codes(a_ready(tester=MUNK)) == ["live_air_test_other"]


def test_gloves_picked_after_the_air_test_are_tested_again() -> None:
    bench = a_ready()
    key = bench.record().live[LIVE.gloves.key][0].key
    bench.add(Kind.STRIKE, {"key": key, "reason": "other pair"})
    bench.put(LIVE.gloves, an_equipment("gloves", **GOOD))
    assert codes(bench) == ["live_air_test_other"]


def test_a_shield_out_of_use_blocks() -> None:
    gone = an_equipment("face_shield", due_on=None) | {"withdrawn": True}
    assert codes(a_ready(shield=gone)) == ["live_shield_lapsed"]


def test_the_second_person_is_somebody_else() -> None:
    assert codes(a_ready(second=ASTER)) == ["live_second_same"]


def test_the_second_person_is_qualified() -> None:
    assert codes(a_ready(second=LORNE)) == ["live_second_unqualified"]


@pytest.mark.parametrize("item", LIVE, ids=lambda item: item.key)
def test_a_part_of_it_can_be_judged(item: Item[Any]) -> None:
    bench = a_ready()
    key = bench.record().live[item.key][0].key
    bench.add(Kind.STRIKE, {"key": key, "reason": "mistaken"})
    assert codes(bench) == []


def test_no_reason_can_be_countersigned() -> None:
    assert not any(reason.countersign for reason in REASONS)


def test_gloves_and_their_air_test_are_never_taken_from_paper() -> None:
    live = live_work_items("some_step")
    taken = {item.key: on_paper(item) for item in live}
    assert taken == {
        "some_step.live_gloves": False,
        "some_step.live_air_test": False,
        "some_step.live_shield": True,
        "some_step.live_second": False,
    }
