"""A collection takes only the qualifiers that are asked."""

from dataclasses import replace
from typing import Any

from jobs.core.entering import enter_gate
from jobs.core.item import Item, qualifier_of, reading
from jobs.core.record import Record
from jobs.core.section import Section
from jobs.core.step import Signers, Step
from tests.builders import a_bench, a_person

READING = reading(
    "bench_step.reading", "Pole", unit="V", low=-500, high=500, many="each", qualifiers=("point",)
)


def a_step(item: Item[Any]) -> Step[None]:
    def nothing(_record: Record) -> None:
        return None

    return Step(
        slug="bench_step",
        title="Bench",
        signers=Signers(),
        items=lambda _record: (item,),
        assess=nothing,
        holds=lambda _record, _result: (),
        blockers=lambda _record, _result: (),
        section=lambda _record, _result: Section(),
        reasons=(),
    )


def codes(item: Item[Any], point: str) -> list[str]:
    found = enter_gate(
        (a_step(item),), a_bench().record(), key=item.key,
        qualifier=qualifier_of(point=point), by=a_person(),
    )  # fmt: skip
    return [one.code for one in found]


def test_any_qualifier_is_taken_where_none_are_offered() -> None:
    assert codes(READING, "anywhere") == []


def test_only_what_is_offered_is_taken() -> None:
    offered = replace(READING, offered=(qualifier_of(point="A"),))
    assert codes(offered, "A") == []
    assert codes(offered, "B") == ["not_offered"]
