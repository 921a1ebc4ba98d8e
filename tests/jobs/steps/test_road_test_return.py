"""Road test: bonding before power, codes before clearing, hot value, return visit, way back."""

from typing import Any

import pytest

from jobs.core.entering import enter_gate
from jobs.core.flow import sign_gate
from jobs.core.item import Item
from jobs.core.paper import on_paper
from jobs.steps import STEPS
from jobs.steps.road_test import STEP
from jobs.steps.road_test.items import (
    AFTER_24H,
    BONDING,
    BONDING_A,
    BONDING_METER,
    CODES,
    CODES_STORED,
    DISCONNECT,
    HOLD,
    HOT,
    REVISIT,
    REVISIT_ON,
    SPREAD_TOP,
    SUPPLY,
)
from tests.builders import ASTER, Bench, a_person
from tests.jobs.steps.repair_checks import again, found, without
from tests.jobs.steps.repair_scene import driven


def _dry(bench: Bench) -> None:
    bench.entries = [e for e in bench.entries if e.item != "fault_localisation.seen"]


def test_a_visit_booked_ahead_does_where_it_was_dry_and_shown_at_once() -> None:
    bench = driven()
    _dry(bench)
    without(bench, AFTER_24H)
    assert found(bench, STEP) == ()


def test_a_day_that_was_struck_leaves_no_visit_booked_whatever_the_words_say() -> None:
    bench = driven()
    _dry(bench)
    without(bench, AFTER_24H)
    bench.put(REVISIT, "In four weeks")
    assert found(bench, STEP) == ()
    without(bench, REVISIT_ON)
    assert [blocker.code for blocker in found(bench, STEP)] == ["road_no_revisit"]


def test_words_alone_count_where_the_day_was_never_asked_for() -> None:
    bench = driven()
    _dry(bench)
    without(bench, AFTER_24H)
    bench.entries = [e for e in bench.entries if e.item != REVISIT_ON.key]
    assert [blocker.code for blocker in found(bench, STEP)] == ["road_no_revisit"]
    bench.put(REVISIT, "In four weeks")
    assert found(bench, STEP) == ()


def test_bonding_is_measured_before_power_comes_back_and_not_after() -> None:
    bench = driven()
    by = a_person(ASTER)

    def refused(item: Item[Any]) -> set[str]:
        gate = enter_gate((STEP,), bench.record(), key=item.key, qualifier="", by=by)
        return {blocker.code for blocker in gate}

    for item in (BONDING, BONDING_A, BONDING_METER):
        without(bench, item)
        assert refused(item) == {"road_bonding_power_on"}
    without(bench, SUPPLY)
    assert refused(BONDING) == {"road_bonding_power_on"}
    without(bench, DISCONNECT)
    assert refused(BONDING) == set()


def test_a_bonding_struck_afterwards_asks_for_the_hold_point_again() -> None:
    bench = driven()
    bench.hold(STEP.slug, HOLD)
    assert (STEP.slug, HOLD) in bench.record().holds
    without(bench, BONDING)
    assert (STEP.slug, HOLD) not in bench.record().holds


def test_codes_are_noted_before_they_are_cleared() -> None:
    bench = driven()
    without(bench, CODES_STORED)
    assert {b.item for b in found(bench, STEP)} == {CODES_STORED.key}


@pytest.mark.parametrize(
    ("shown", "warned"), [("20k", False), ("1.4M", True), (">1.4M", False), ("9M", False)]
)
def test_a_hot_value_far_below_the_bench_is_a_warning_and_no_more(shown: str, warned: bool) -> None:
    bench = driven()
    again(bench, HOT, shown)
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert bool(section.warnings) is warned
    assert not warned or found(bench, STEP) == ()


@pytest.mark.parametrize(
    ("item", "raw", "back"),
    [
        (HOT, "170k", ("fault_localisation",)),
        (CODES, "returned", ("fault_localisation",)),
        (SPREAD_TOP, "31", ("module_swap",)),
        (HOT, "1.4M", ()),
    ],
)
def test_a_finding_leads_back_to_the_step_it_names(
    item: Item[Any], raw: str, back: tuple[str, ...]
) -> None:
    bench = driven()
    again(bench, item, raw)
    assert STEP.section(bench.record(), STEP.assess(bench.record())).back == back


def test_whoever_signed_another_step_is_told_its_name() -> None:
    bench = driven()
    standing = sign_gate(STEPS, bench.record(), STEP, a_person(ASTER))
    titles = {b.params["step"] for b in standing if b.code == "signer_of"}
    assert titles == {"Module swap"}


def test_the_reading_a_day_later_is_never_taken_from_paper() -> None:
    assert not on_paper(AFTER_24H)
    assert on_paper(HOT)
