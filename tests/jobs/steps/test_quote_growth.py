"""Work that grows: nothing goes on over what was approved, and nothing is lost by saying so."""

from dataclasses import replace
from typing import Any

import pytest

from jobs.core.closing import plan_reopen
from jobs.core.entering import enter_gate, row_gate, strike_gate
from jobs.core.flow import hold_gate
from jobs.core.item import Item, qualifier_of
from jobs.core.order import find_item
from jobs.core.quote_growth import approved_total
from jobs.steps import STEPS
from jobs.steps.fault_localisation import STEP
from jobs.steps.fault_localisation.items import (
    ANSWER,
    COST_NOW,
    LID_HOLD,
    OPTION,
    QUOTATION,
    QUOTE,
    QUOTE_HOW,
    QUOTE_WHO,
    SLUG,
    answered,
    items,
)
from jobs.steps.intake.items import PRICE_CAP
from jobs.steps.module_swap import STEP as SWAP
from jobs.steps.reassembly import STEP as REASSEMBLY
from jobs.steps.road_test import STEP as ROAD
from tests.builders import Bench, a_person, a_quotation
from tests.jobs.steps.isolation_scene import LEAK_IN_M3, an_isolation_bench, struck
from tests.jobs.steps.localisation_scene import put_before_lid, put_quotation

DESK = replace(a_person(), role="front_desk")


def ready(answer: str = "approved") -> Bench:
    bench = an_isolation_bench(LEAK_IN_M3)
    put_quotation(bench, answer)
    put_before_lid(bench)
    return bench


def refusal(bench: Bench, answer: str, version: str = "1") -> set[str]:
    """Say what the door answers to an answer of the customer."""
    record, at = bench.record(), qualifier_of(version=version)
    asked = enter_gate((STEP,), record, key=ANSWER.key, qualifier=at, by=DESK)
    found = next(item for item in items(record) if item.key == ANSWER.key)
    against = row_gate(found, record, qualifier=at, value=answer)
    return {one.code for one in (*asked, *against)}


def with_quotation(bench: Bench, *, who: bool = True, **more: Any) -> Bench:
    bench.put(QUOTATION, a_quotation(**more))
    if who:
        bench.put(QUOTE_HOW, "phone")
        bench.put(QUOTE_WHO, "The owner")
    return bench


def lid(bench: Bench) -> set[str]:
    return {one.code for one in hold_gate((STEP,), bench.record(), STEP, LID_HOLD, a_person())}


def later(bench: Bench, step: Any) -> set[str]:
    record = bench.record()
    return {
        one.code
        for one in step.blockers(record, step.assess(record))
        if one.code.startswith(("quote", "localise_quote"))
    }


def codes(bench: Bench) -> set[str]:
    record = bench.record()
    return {one.code for one in STEP.blockers(record, STEP.assess(record)) if "quote" in one.code}


def test_an_answer_by_nobody_is_refused_where_it_is_entered() -> None:
    bench = with_quotation(an_isolation_bench(LEAK_IN_M3), who=False)
    assert refusal(bench, "approved") == {"localise_quote_nobody"}
    assert refusal(bench, "declined") == {"localise_quote_nobody"}
    bench.put(QUOTE_HOW, "message")
    assert refusal(bench, "approved") == {"localise_quote_nobody"}
    bench.put(QUOTE_WHO, "The owner")
    assert refusal(bench, "approved") == set()


def test_whoever_answered_the_version_before_answered_nothing_of_this_one() -> None:
    bench = with_quotation(an_isolation_bench(LEAK_IN_M3))
    struck(bench, QUOTATION)
    bench.put(QUOTATION, a_quotation("1900"))
    assert refusal(bench, "approved", "2") == {"localise_quote_nobody"}


def test_a_version_that_ran_out_is_not_approved_and_may_be_declined() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    day = bench.record().now.date().isoformat()
    with_quotation(bench, valid_until=day)
    assert refusal(bench, "approved") == set()
    bench.wait(days=1)
    assert refusal(bench, "approved") == {"localise_quote_lapsed"}
    assert refusal(bench, "declined") == set()


def test_optional_lines_are_answered_before_the_whole_and_add_to_what_is_approved() -> None:
    quoted = a_quotation("1000")
    extra = {**quoted["lines"][0], "text": "Drain plugs", "unit_price": "80", "optional": "yes"}
    bench = with_quotation(an_isolation_bench(LEAK_IN_M3), who=False)
    struck(bench, QUOTATION)
    bench.put(QUOTATION, {"lines": [*quoted["lines"], extra, {**extra, "text": "Paint"}]})
    bench.put(QUOTE_HOW, "phone")
    bench.put(QUOTE_WHO, "The owner")
    assert refusal(bench, "approved", "2") == {"localise_quote_options"}
    bench.put(OPTION, "taken", line="2", version="2")
    assert refusal(bench, "approved", "2") == {"localise_quote_options"}
    bench.put(OPTION, "left", line="3", version="2")
    assert refusal(bench, "approved", "2") == set()
    bench.put(ANSWER, "approved", version="2")
    assert str(approved_total(bench.record(), QUOTE)) == "1080.00"
    record = bench.record()
    assert "1080.00" in str(STEP.section(record, STEP.assess(record)))


def test_work_over_what_was_approved_keeps_the_lid_on_until_a_new_version_is_approved() -> None:
    bench = ready()
    approved = approved_total(bench.record(), QUOTE)
    assert approved is not None
    bench.put(COST_NOW, str(approved))
    assert lid(bench) == set()
    bench.put(COST_NOW, str(approved + 1))
    assert lid(bench) == {"quote_grown"}
    assert codes(bench) == {"quote_grown"}
    struck(bench, ANSWER)
    assert refusal(bench, "approved") == {"localise_quote_outgrown"}
    struck(bench, QUOTATION)
    struck(bench, QUOTE_HOW)
    struck(bench, QUOTE_WHO)
    with_quotation(bench, price=str(approved + 1))
    bench.put(ANSWER, "approved", version="2")
    assert lid(bench) == set()
    assert codes(bench) == set()


def test_before_anything_is_approved_the_cap_of_the_intake_counts() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    bench.put(PRICE_CAP, "300")
    bench.put(COST_NOW, "301")
    assert codes(bench) == {"quote_over_cap"}
    bench.put(COST_NOW, "300")
    assert codes(bench) == set()


def signed() -> Bench:
    bench = ready()
    bench.sign(SLUG)
    return bench


@pytest.mark.parametrize("step", [SWAP, REASSEMBLY, ROAD], ids=lambda step: step.slug)
def test_growth_after_the_step_was_signed_stops_every_later_signature(step: Any) -> None:
    bench = signed()
    assert later(bench, step) == set()
    bench.put(COST_NOW, "99999")
    assert later(bench, step) == {"quote_grown"}
    struck(bench, QUOTATION)
    bench.put(QUOTATION, a_quotation("99999"))
    assert later(bench, step) == {"quote_unanswered"}
    for item in (ANSWER, QUOTE_HOW, QUOTE_WHO):
        struck(bench, item)
    bench.put(QUOTE_HOW, "phone")
    bench.put(QUOTE_WHO, "The owner")
    bench.put(ANSWER, "approved", version="2")
    assert later(bench, step) == set()


def asked(bench: Bench, item: Item[Any]) -> Item[Any]:
    found = find_item(STEPS, bench.record(), item.key)
    assert found is not None
    return found[1]


def test_a_signed_step_keeps_its_quotation_open_so_that_nothing_later_is_voided() -> None:
    assert not asked(ready(), QUOTATION).anytime
    bench = signed()
    for item in (QUOTATION, QUOTE_HOW, QUOTE_WHO, ANSWER, COST_NOW):
        assert asked(bench, item).anytime, item.key
    (entry,) = bench.record().live[QUOTATION.key]
    assert strike_gate(STEPS, bench.record(), key=entry.key, by=DESK) == ()
    struck(bench, QUOTATION)
    free = enter_gate(STEPS, bench.record(), key=QUOTATION.key, qualifier="", by=DESK)
    assert free == ()
    voided = plan_reopen(STEPS, bench.record(), STEP, []).voids
    assert QUOTATION.key not in voided


def test_a_new_version_cannot_be_declined_once_the_work_before_it_is_signed() -> None:
    bench = signed()
    struck(bench, QUOTATION)
    for item in (ANSWER, QUOTE_HOW, QUOTE_WHO):
        struck(bench, item)
    with_quotation(bench, price="1900")
    assert refusal(bench, "declined", "2") == {"localise_quote_begun"}
    assert refusal(bench, "approved", "2") == set()
    assert answered(bench.record()) == ""
