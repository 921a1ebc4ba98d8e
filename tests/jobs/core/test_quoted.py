"""Versions of a quotation, and the version that an answer belongs to."""

from jobs.core.quoted import answers, in_force, lapsed_said, quoted_facts, versions
from jobs.steps.fault_localisation.items import ANSWER, QUOTATION
from tests.builders import Bench, a_bench, a_quotation
from tests.jobs.steps.isolation_scene import struck


def two_versions() -> Bench:
    bench = a_bench()
    bench.put(QUOTATION, a_quotation("1450", currency="EUR"))
    bench.put(ANSWER, "approved", version="1")
    struck(bench, QUOTATION)
    bench.put(QUOTATION, a_quotation("1900", currency="EUR"))
    return bench


def test_a_struck_quotation_is_an_earlier_version() -> None:
    first, second = versions(two_versions().record(), QUOTATION)
    assert (first.number, first.replaced_by, first.in_force) == (1, 2, False)
    assert (second.number, second.replaced_by, second.in_force) == (2, 0, True)


def test_an_answer_belongs_to_the_version_before_it() -> None:
    bench = two_versions()
    assert [each.version for each in answers(bench.record(), QUOTATION, ANSWER)] == [1]
    struck(bench, ANSWER)
    bench.put(ANSWER, "declined", version="2")
    found = answers(bench.record(), QUOTATION, ANSWER)
    assert [(each.answer, each.version) for each in found] == [("approved", 1), ("declined", 2)]
    assert [each.version for each in answers(bench.record(), QUOTATION, ANSWER, struck=False)] == [
        2
    ]


def test_an_answer_belongs_to_the_version_it_names_not_to_the_one_it_follows() -> None:
    bench = two_versions()
    bench.put(ANSWER, "declined", version="1")
    bench.put(ANSWER, "declined")
    assert [each.version for each in answers(bench.record(), QUOTATION, ANSWER)] == [1, 1, 2]


def test_none_is_in_force_once_it_is_struck() -> None:
    bench = two_versions()
    struck(bench, QUOTATION)
    record = bench.record()
    assert in_force(record, QUOTATION) is None
    assert quoted_facts(record, QUOTATION, "") == ()


def test_a_last_day_that_is_over_is_warned_of_until_there_is_an_answer() -> None:
    bench = a_bench()
    bench.put(QUOTATION, a_quotation(valid_until="2026-03-09"))
    assert lapsed_said(bench.record(), QUOTATION, "") == ()
    bench.wait(days=8)
    assert len(lapsed_said(bench.record(), QUOTATION, "")) == 1
    assert lapsed_said(bench.record(), QUOTATION, "approved") == ()
