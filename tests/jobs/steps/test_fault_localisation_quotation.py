"""The fault localisation: the approval belongs to the quotation in force."""

from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from jobs.core.entering import enter_gate
from jobs.core.flow import gate, hold_gate
from jobs.core.item import Item, qualifier_of
from jobs.core.paper import on_paper
from jobs.report.timeline import timeline
from jobs.report.wording import Wording
from jobs.steps.fault_localisation import STEP
from jobs.steps.fault_localisation.gate import REASONS
from jobs.steps.fault_localisation.items import (
    AMOUNT,
    ANSWER,
    CANDIDATES,
    LID_HOLD,
    LID_OFF,
    LINK_HOLD,
    QUOTATION,
    QUOTE_HOW,
    QUOTE_WHO,
    STOP,
    answered,
    stopped,
)
from jobs.views.reasons import sentence_of
from tests.builders import Bench, a_person, a_quotation
from tests.jobs.steps.isolation_scene import LEAK_IN_M3, an_isolation_bench, struck
from tests.jobs.steps.localisation_scene import (
    a_localised_bench,
    an_open_bench,
    put_before_lid,
    put_quotation,
)


def keys(bench: Bench) -> set[str]:
    return {item.key for item in STEP.items(bench.record())}


def codes(bench: Bench) -> set[str]:
    record = bench.record()
    return {one.code for one in STEP.blockers(record, STEP.assess(record))}


def lid(bench: Bench) -> set[str]:
    return {one.code for one in hold_gate((STEP,), bench.record(), STEP, LID_HOLD, a_person())}


def missing(bench: Bench) -> set[str]:
    return {one.item for one in gate((STEP,), bench.record(), STEP) if one.code == "missing"}


def said(bench: Bench) -> str:
    record = bench.record()
    return str(STEP.section(record, STEP.assess(record)))


def ready() -> Bench:
    bench = an_isolation_bench(LEAK_IN_M3)
    put_quotation(bench)
    put_before_lid(bench)
    return bench


def again(bench: Bench, item: Item[Any], raw: Any) -> None:
    struck(bench, item)
    bench.put(item, raw)


def answer_again(bench: Bench, answer: str, version: str = "2") -> None:
    """Ask the customer anew, as the page does: every word of the earlier answer is struck."""
    for item in (ANSWER, QUOTE_HOW, QUOTE_WHO):
        if bench.record().has(item):
            struck(bench, item)
    bench.put(QUOTE_HOW, "message")
    bench.put(QUOTE_WHO, "The owner")
    bench.put(ANSWER, answer, version=version)


def test_a_quotation_is_asked_for_and_an_answer_once_there_is_one() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    assert QUOTATION.key in keys(bench)
    assert {ANSWER.key, AMOUNT.key}.isdisjoint(keys(bench))
    assert QUOTATION.key in missing(bench)
    bench.put(QUOTATION, a_quotation())
    assert {QUOTE_HOW.key, QUOTE_WHO.key, ANSWER.key} <= keys(bench)


def test_the_approval_of_the_quotation_in_force_opens_the_way() -> None:
    bench = ready()
    assert answered(bench.record()) == "approved"
    assert lid(bench) == set()
    assert codes(bench) == set()
    assert "You approved version {version}" in said(bench)


def test_an_approval_of_an_earlier_version_keeps_the_lid_on_and_the_step_unsigned() -> None:
    bench = ready()
    again(bench, QUOTATION, a_quotation("9900"))
    assert lid(bench) == {"localise_quote_version"}
    assert "localise_quote_version" in codes(bench)
    record = bench.record()
    (point,) = [
        one for one in STEP.blockers(record, STEP.assess(record)) if one.code.endswith("version")
    ]
    assert dict(point.params) == {"answered": 1, "version": 2}
    assert "You approved" not in said(bench)
    answer_again(bench, "approved")
    assert lid(bench) == set()
    assert codes(bench) == set()


def entering(bench: Bench, **parts: str) -> set[str]:
    by, at = replace(a_person(), role="front_desk"), qualifier_of(**parts)
    gate = enter_gate((STEP,), bench.record(), key=ANSWER.key, qualifier=at, by=by)
    return {one.code for one in gate}


def test_an_answer_names_its_version_and_a_late_one_to_an_earlier_version_is_not_taken() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    bench.put(QUOTATION, a_quotation())
    assert entering(bench, version="1") == set()
    assert entering(bench) == {"wrong_qualifier"}
    again(bench, QUOTATION, a_quotation("9900"))
    assert entering(bench, version="1") == {"not_offered"}
    assert entering(bench, version="2") == set()


def test_an_answer_to_an_earlier_version_never_counts_however_late_it_stands() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    bench.put(QUOTATION, a_quotation())
    again(bench, QUOTATION, a_quotation("9900"))
    bench.put(ANSWER, "approved", version="1")
    assert answered(bench.record()) == ""
    assert entering(bench, version="2") == {"localise_quote_version"}
    struck(bench, ANSWER)
    bench.put(ANSWER, "approved", version="2")
    assert answered(bench.record()) == "approved"


def test_an_answer_from_before_answers_named_a_version_belongs_to_the_one_before_it() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    bench.put(QUOTATION, a_quotation())
    bench.put(ANSWER, "approved")
    assert answered(bench.record()) == "approved"
    assert ANSWER.key not in missing(bench)
    again(bench, QUOTATION, a_quotation("9900"))
    assert answered(bench.record()) == ""
    assert "localise_quote_version" in codes(bench)


@pytest.mark.parametrize(
    ("days", "answer", "blocks"),
    [
        (0, "approved", False),
        (1, "approved", True),
        (40, "approved", True),
        (40, "declined", False),
    ],
)
def test_a_quotation_is_approved_on_its_last_day_and_not_after_it(
    days: int, answer: str, blocks: bool
) -> None:
    bench = ready()
    struck(bench, QUOTATION)
    struck(bench, ANSWER)
    day = bench.record().now.date()
    bench.put(QUOTATION, a_quotation(valid_until=day.isoformat()))
    bench.wait(days=days)
    answer_again(bench, answer)
    expired = {"localise_quote_expired"} if blocks else set()
    assert {code for code in codes(bench) if "quote" in code} == expired
    if answer == "approved":
        assert {code for code in lid(bench) if "quote" in code} == expired


def test_what_the_customer_said_is_never_taken_from_paper() -> None:
    assert not any(on_paper(item) for item in (QUOTE_HOW, QUOTE_WHO, ANSWER))


def test_without_a_quotation_in_force_no_approval_counts() -> None:
    bench = ready()
    struck(bench, QUOTATION)
    assert lid(bench) == {"localise_not_approved"}
    assert QUOTATION.key in missing(bench)


def test_a_refusal_of_an_earlier_version_ends_nothing() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    put_quotation(bench, "declined")
    assert stopped(bench.record())
    assert STEP.ends(bench.record()) == "declined"
    again(bench, QUOTATION, a_quotation("900"))
    assert not stopped(bench.record())
    assert STEP.ends(bench.record()) == ""
    assert "localise_quote_version" in codes(bench)


def test_candidates_changed_after_the_answer_are_answered_again() -> None:
    bench = ready()
    again(bench, CANDIDATES, "Module M4 as well")
    assert lid(bench) == {"localise_quote_old"}


def test_a_new_version_under_the_open_lid_stops_the_work_and_keeps_what_was_done() -> None:
    bench = an_open_bench()
    again(bench, QUOTATION, a_quotation("2900"))
    record = bench.record()
    assert record.holds == {}
    assert {LID_OFF.key, STOP.key} <= keys(bench)
    assert not any(item.needed for item in STEP.items(record) if item.key == LID_OFF.key)
    assert "localise_quote_version" in codes(bench)
    link = hold_gate((STEP,), record, STEP, LINK_HOLD, a_person())
    assert {one.code for one in link} == {"localise_quote_version"}


def test_a_record_from_before_quotations_had_lines_still_stands() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    bench.put(CANDIDATES, "Module M3")
    bench.put(AMOUNT, "1450")
    bench.put(QUOTE_HOW, "message")
    bench.put(QUOTE_WHO, "The owner")
    bench.put(ANSWER, "approved")
    put_before_lid(bench)
    assert AMOUNT.key in keys(bench)
    assert QUOTATION.key not in keys(bench)
    assert lid(bench) == set()
    assert "1450" in said(bench)
    struck(bench, AMOUNT)
    assert QUOTATION.key in keys(bench)
    assert lid(bench) == {"localise_not_approved"}
    assert AMOUNT in STEP.retired


def test_a_refusal_stored_under_the_earlier_code_can_still_be_said() -> None:
    texts = {reason.code: reason.text for reason in REASONS}
    assert texts["localise_over_cap"].format(billed=320.0, cap=300.0).startswith("320.00")


def test_the_figures_sealed_are_those_of_before() -> None:
    assert STEP.gate_version == 4
    bench = a_localised_bench()
    assert "quotation" not in str(STEP.assess(bench.record()))


def test_an_amount_of_before_is_named_in_the_record_after_it_was_struck() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    bench.put(AMOUNT, "1450")
    struck(bench, AMOUNT)
    words = Wording(zone=ZoneInfo("UTC"), currency="EUR")
    (row,) = [
        row for row in timeline(bench.record(), words, sentence_of) if row.what == AMOUNT.label
    ]
    assert row.detail == "1\xa0450.00\xa0EUR"
    assert row.struck
