"""An assessment is made once a record, and never taken for that of another."""

from dataclasses import replace
from datetime import timedelta

from jobs.core.once import KEPT, once_a_record
from jobs.core.record import Record
from jobs.steps import STEPS
from tests.jobs.steps.isolation_scene import an_isolation_bench


def test_the_same_record_is_assessed_once_and_an_equal_one_for_itself() -> None:
    asked: list[Record] = []

    @once_a_record
    def count(record: Record) -> int:
        asked.append(record)
        return len(record.entries)

    record = an_isolation_bench().record()
    assert [count(record), count(record)] == [len(record.entries)] * 2
    assert len(asked) == 1
    later = replace(record, now=record.now + timedelta(hours=9))
    count(later)
    assert asked[-1] is later
    for _ in range(KEPT):
        count(replace(record))
    count(record)
    assert asked[-1] is record


def test_a_kept_assessment_is_what_a_fresh_one_would_be() -> None:
    bench = an_isolation_bench()
    record = bench.record()
    for step in STEPS:
        fresh = step.assess.__wrapped__  # type: ignore[attr-defined]
        assert step.assess(record) == step.assess(record) == fresh(record)
        later = replace(record, now=record.now + timedelta(days=2))
        assert step.assess(later) == fresh(later)
