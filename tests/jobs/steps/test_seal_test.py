"""Seal test: caps, instruments, readings and the leak, and what blocks each."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.entering import enter_gate
from jobs.core.entry import Kind
from jobs.core.flow import not_needed_gate, sign_gate
from jobs.core.order import items_of
from jobs.core.parsing import parse
from jobs.core.reason import InputRefused
from jobs.core.section import Quantity, Said
from jobs.steps.seal_test import STEP
from jobs.steps.seal_test.assessment import SealResult, more_s
from jobs.steps.seal_test.gate import LID_STAYED_ON, NO_METHOD, REASONS
from jobs.steps.seal_test.items import (
    CAPS_IN,
    CAPS_OUT,
    GAUGE,
    SAMPLE,
    SAMPLES,
    SETTLED_S,
    THERMOMETER,
    TOOLS_FIRST,
    sample_sheet,
)
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


def _one_by_one(*chosen: int) -> Change:
    """Strike the series and enter its samples one by one."""

    def change(bench: Bench) -> None:
        without(bench, SAMPLES)
        _single(bench, *chosen)

    return change


def _single(bench: Bench, *chosen: int, leak_ml_per_min: float = 5.0, from_s: int = 0) -> None:
    rows = samples(leak_ml_per_min)
    for row in [rows[index] for index in chosen] or rows:
        bench.wait(seconds=60)
        names = ("t_s", "gauge", "temp_c", "barometer")
        value = dict(zip(names, (str(int(row[0]) + from_s), *row[1:]), strict=True))
        bench.put(SAMPLE, value)


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
    ("seal_times", _one_by_one(0, 1, 2, 1)),
    ("seal_times", lambda b: _single(b, 1)),
    ("seal_too_few", _one_by_one(0)),
    ("seal_short", _one_by_one(0, 1, 2)),
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
    skips = {LID_STAYED_ON.code, NO_METHOD.code, TOOLS_FIRST.code}
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


def test_samples_entered_one_by_one_say_what_the_series_says() -> None:
    whole, single = sealed_van(), sealed_van()
    _one_by_one()(single)
    assert found(single, STEP) == ()
    assert STEP.assess(single.record()) == STEP.assess(whole.record())


def test_single_samples_may_go_on_after_a_series() -> None:
    bench = sealed_van()
    fall_pa = 3000 - float(samples()[-1][1])
    bench.put(
        SAMPLE,
        {
            "t_s": "1200",
            "gauge": f"{3000 - 2 * fall_pa:.0f}",
            "temp_c": "20",
            "barometer": "101325",
        },
    )
    assert found(bench, STEP) == ()
    assert STEP.assess(bench.record()).duration_s == 1200.0


def test_a_sample_is_struck_and_entered_again_in_its_place() -> None:
    bench = sealed_van()
    _one_by_one()(bench)
    wrong = bench.record().live[SAMPLE.key][4]
    bench.add(Kind.STRIKE, {"key": wrong.key, "reason": "misread"})
    assert found(bench, STEP) == ()
    _single(bench, 4)
    assert found(bench, STEP) == ()
    _single(bench, 4)
    assert codes(bench, STEP) == {"seal_times"}


def test_a_sample_waits_for_its_instruments() -> None:
    bench = sealed_van()
    by = a_person(MUNK)

    def refused() -> set[str]:
        gate = enter_gate((STEP,), bench.record(), key=SAMPLE.key, qualifier="", by=by)
        return {blocker.code for blocker in gate}

    assert refused() == set()
    without(bench, GAUGE)
    assert refused() == {"seal_tools_first"}


def test_a_thermometer_changed_after_the_samples_is_said() -> None:
    bench = sealed_van()
    without(bench, THERMOMETER)
    bench.put(THERMOMETER, A_THERMOMETER)
    assert "instrument_picked_late" in codes(bench, STEP)


@pytest.mark.parametrize(
    ("gauge", "unit", "stored"), [("3000", "Pa", "3000"), ("30,5", "mbar", "3050.0"),
                                  ("3.05", "kPa", "3050.00")],
)  # fmt: skip
def test_pressures_are_stored_in_pascal_whatever_unit_is_pressed(
    gauge: str, unit: str, stored: str
) -> None:
    raw = {"t_s": "0", "gauge": gauge, "gauge_unit": unit, "temp_c": "20.1",
           "barometer": "1013.2", "barometer_unit": "hPa"}  # fmt: skip
    value = parse(SAMPLE, raw)
    assert (value["gauge_pa"], value["barometer_pa"]) == (stored, "101320.0")
    assert value["typed"]["gauge"] == gauge


@pytest.mark.parametrize(
    "wrong",
    [{"gauge": ""}, {"gauge_unit": "psi"}, {"temp_c": "400"}, {"barometer": "1013"},
     {"t_s": "-5"}, {"t_s": "soon"}, {"gauge": "30000"}],
)  # fmt: skip
def test_a_sample_that_cannot_be_is_refused(wrong: dict[str, str]) -> None:
    good = {"t_s": "0", "gauge": "3000", "temp_c": "20", "barometer": "101325"}
    assert parse(SAMPLE, good)["gauge_pa"] == "3000"
    with pytest.raises(InputRefused):
        parse(SAMPLE, good | wrong)


def test_the_page_counts_from_the_first_look_at_the_gauge() -> None:
    bench = sealed_van()
    assert sample_sheet(bench.record()).started_at is None
    first = {"t_s": "0", "gauge": "3000", "temp_c": "20", "barometer": "101325", "lag_s": "8"}
    began = bench.now
    bench.put(SAMPLE, first)
    bench.wait(seconds=60)
    sheet = sample_sheet(bench.record())
    assert sheet.started_at == began - timedelta(seconds=8)
    assert (sheet.count, sheet.now) == (1, bench.now)


def test_the_panel_says_after_each_sample_how_much_longer() -> None:
    bench = sealed_van()
    without(bench, SAMPLES)
    said = []
    for index in range(11):
        _single(bench, index, leak_ml_per_min=20.0)
        section = STEP.section(bench.record(), STEP.assess(bench.record()))
        said.append("" if section.headline is None else section.headline.text)
        named = [s.params["minutes"] for s in (section.headline, *section.advice)
                 if s is not None and "minutes" in s.params]  # fmt: skip
        began = sample_sheet(bench.record()).started_at
        ends = [began + timedelta(minutes=float(each)) for each in named if began is not None]
        assert {one.until for one in section.counts} == set(ends)
        assert [one.title for one in section.pictures] == (
            ["Decay strip", "Leak against its limit"] if index else []
        )
        assert len(section.counts) == (section.verdict not in {"pass", "fail"})
        assert section.verdict != "pass" or index == 10
    assert said[0] == ""
    assert all("min" in words for words in said[1:10])
    assert said[10] == "Within the limit."


def test_the_longer_time_named_is_the_one_of_the_calculation() -> None:
    bench = sealed_van()
    again(bench, SAMPLES, samples(24.0, seconds=120))
    result = replace(STEP.assess(bench.record()), duration_needed_s=0.0)
    assert [message.code for message in result.advice] == ["longer_test"]
    more = more_s(result)
    assert more is not None
    assert result.duration_s is not None
    assert f"{more + result.duration_s:.0f} s" in result.advice[0].text


def test_what_a_longer_test_cannot_decide_names_no_minutes() -> None:
    bench = sealed_van()
    again(bench, SAMPLES, samples(-15.0))
    assert more_s(STEP.assess(bench.record())) is None
    assert more_s(SealResult()) is None


def test_a_leaking_pack_leads_back_and_a_tight_one_does_not() -> None:
    bench = sealed_van()
    assert STEP.section(bench.record(), STEP.assess(bench.record())).back == ()
    again(bench, SAMPLES, samples(60.0))
    assert STEP.section(bench.record(), STEP.assess(bench.record())).back == ("reassembly",)


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
