"""Seal test: caps, instruments, readings and the leak, and what blocks each."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.flow import not_needed_gate, sign_gate
from jobs.core.order import items_of
from jobs.core.section import Quantity, Said
from jobs.steps.seal_test import STEP
from jobs.steps.seal_test.gate import LID_STAYED_ON, NO_METHOD, REASONS
from jobs.steps.seal_test.items import CAPS_IN, CAPS_OUT, GAUGE, SAMPLES, SETTLED_S, THERMOMETER
from packs.definition import SealTest
from tests.builders import MUNK, Bench, a_bench, a_person
from tests.jobs.steps.repair_checks import (
    Change,
    again,
    codes,
    entered_in_order,
    found,
    named,
    speaks,
    without,
)
from tests.jobs.steps.repair_scene import (
    THERMOMETER as A_THERMOMETER,
)
from tests.jobs.steps.repair_scene import (
    localised,
    samples,
    sealed_van,
)


def _rows(rows: list[list[str]]) -> Change:
    return lambda bench: again(bench, SAMPLES, rows)


def _no_test(bench: Bench) -> None:
    assert bench.pack is not None
    none = SealTest(method="none", source="Maker's manual, section 9")
    bench.pack = bench.pack.model_copy(update={"seal_test": none})


CASES: tuple[tuple[str, Change], ...] = (
    ("seal_fails", _rows(samples(60.0))),
    ("seal_undecided", _rows(samples(24.9))),
    ("seal_undecided", _rows([[row[0], "4000", *row[2:]] for row in samples()])),
    ("seal_refused", _rows([[row[0], "-3000", *row[2:]] for row in samples()])),
    ("seal_columns", _rows([row[:3] for row in samples()])),
    ("seal_short", _rows(samples(seconds=540))),
    ("seal_not_settled", lambda b: again(b, SETTLED_S, "120")),
    ("seal_instrument", lambda b: again(b, THERMOMETER, A_THERMOMETER | {"due_on": "2026-03-01"})),
    ("seal_caps_out", lambda b: again(b, CAPS_OUT, "1")),
    ("seal_cap_out", lambda b: again(b, CAPS_IN, "1")),
)


def test_a_tight_pack_can_be_signed_by_a_technician() -> None:
    bench = sealed_van()
    assert found(bench, STEP) == ()
    assert sign_gate((STEP,), bench.record(), STEP, a_person(MUNK)) == ()


def test_every_value_can_be_entered_in_the_order_of_the_work() -> None:
    assert entered_in_order(sealed_van(), STEP) == []


@pytest.mark.parametrize(("code", "change"), CASES, ids=named(CASES))
def test_each_blocker_stands_when_its_point_fails(code: str, change: Change) -> None:
    bench = sealed_van()
    change(bench)
    standing = [blocker for blocker in found(bench, STEP) if blocker.code == code]
    assert standing
    asked = {item.key for item in items_of(STEP, bench.record())}
    assert all(blocker.item in asked for blocker in standing)


def test_every_reason_is_shown_by_a_case_and_none_may_be_countersigned() -> None:
    skips = {LID_STAYED_ON.code, NO_METHOD.code}
    assert {code for code, _ in CASES} | skips == {reason.code for reason in REASONS}
    assert not any(reason.countersign for reason in REASONS)


def test_a_leak_hidden_by_warming_is_found() -> None:
    bench = sealed_van()
    rows: list[list[Any]] = [
        [row[0], row[1], f"{20 + index / 10:.3f}", row[3]]
        for index, row in enumerate(samples(10.0))
    ]
    again(bench, SAMPLES, rows)
    assert codes(bench, STEP) == {"seal_fails"}


def test_a_test_in_which_pressure_rises_is_not_decided() -> None:
    bench = sealed_van()
    again(bench, SAMPLES, samples(-15.0))
    assert codes(bench, STEP) == {"seal_undecided"}


def test_the_step_is_not_needed_without_a_lid_off_or_without_a_method() -> None:
    assert STEP.skip(a_bench().record()) is LID_STAYED_ON
    bench = localised()
    assert STEP.skip(bench.record()) is None
    _no_test(bench)
    assert STEP.skip(bench.record()) is NO_METHOD
    assert not_needed_gate((STEP,), bench.record(), STEP, a_person(MUNK)) == ()
    assert STEP.assess(bench.record()).verdict == "none"


def test_a_pack_without_vents_to_blank_asks_for_no_caps() -> None:
    bench = localised()
    assert bench.pack is not None
    assert CAPS_OUT in STEP.items(bench.record())
    test = bench.pack.seal_test.model_copy(update={"vent_caps": 0})
    bench.pack = bench.pack.model_copy(update={"seal_test": test})
    assert not {CAPS_OUT, CAPS_IN} & set(STEP.items(bench.record()))


def test_the_report_gives_the_leak_against_its_limit_and_no_protection_class() -> None:
    bench = sealed_van()
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    leak = section.facts[0]
    assert isinstance(leak.value, Quantity)
    assert leak.value.value == pytest.approx(5.0, abs=0.5)
    assert (leak.limit, leak.limit_kind) == (Quantity(25.0, "ml/min"), "maker")
    assert section.pictures[0].title == "Decay strip"
    words = [part.text for part in (*section.plain, *section.not_covered) if isinstance(part, Said)]
    assert not any("IP" in text or "waterproof" in text for text in words)
    assert GAUGE.kinds == ("pressure_gauge",)


def test_a_leaking_pack_sends_back_to_reassembly() -> None:
    bench = sealed_van()
    again(bench, SAMPLES, samples(60.0))
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert section.verdict == "fail"
    assert section.advice[-1].text.startswith("Go back to reassembly")


def test_nothing_is_judged_before_the_instruments_are_picked() -> None:
    bench = sealed_van()
    without(bench, GAUGE)
    result = STEP.assess(bench.record())
    assert (result.verdict, result.leak) == ("none", None)


def test_a_pack_without_a_seal_test_has_that_said_in_its_report() -> None:
    bench = localised()
    _no_test(bench)
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert section.not_covered == (
        Said("The maker names no seal test for this pack; none was made."),
    )


WHOLE = sealed_van()


@given(st.sets(st.integers(0, len(WHOLE.entries) - 1)))
@settings(max_examples=20)
def test_any_part_of_the_entries_can_be_judged_and_said(kept: set[int]) -> None:
    speaks(WHOLE, STEP, kept)
