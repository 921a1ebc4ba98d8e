"""What a person types is taken exactly or refused; nothing is guessed."""

import json
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.item import (
    Bounded,
    Choice,
    Item,
    bounded,
    choice,
    equipment,
    personal,
    photo,
    reading,
    series,
    signature,
    table,
    text,
    tick,
)
from jobs.core.parsing import REASONS, parse, parse_number
from jobs.core.reason import InputRefused
from tests.house.sources import ROOT

DATA = ROOT / "tests" / "data"
OHM = bounded("x.ohm", "Resistance", unit="ohm", low=0, high=1e10)
VOLT = reading("x.volt", "Voltage", unit="V", low=-1000, high=1000)


TYPED = json.loads((DATA / "typed_numbers.json").read_text(encoding="utf-8"))["cases"]


def test_numbers_are_read_as_the_tablet_reads_them() -> None:
    for case in TYPED:
        number = parse_number(case["typed"], case["unit"])
        assert (None if number is None else float(number)) == case["number"], case


@pytest.mark.parametrize(
    ("typed", "unit", "why"),
    [
        ("1.000,5", "V", "Thousands are not parted"),
        ("1 000", "V", "Thousands are not parted"),
        ("3 mV", "V", "Small m is not taken"),
        ("450k", "V", "only where the unit is ohm"),
        ("nan", "V", "Over range has a button"),
        ("OL", "V", "Over range has a button"),
        ("1e5", "V", "Powers of ten"),
        (" ", "V", "Nothing was typed"),
    ],
)
def test_a_refused_number_says_what_is_wrong_with_it(typed: str, unit: str, why: str) -> None:
    item = replace(VOLT, unit=unit)
    with pytest.raises(InputRefused) as caught:
        parse(item, typed)
    assert why in str(caught.value.blocker.params["why"])
    assert typed in str(caught.value.blocker.params["typed"])


def refusal(item: Item[Any], raw: object) -> str:
    with pytest.raises(InputRefused) as caught:
        parse(item, raw)
    assert caught.value.blocker.item == item.key
    return caught.value.blocker.code


@pytest.mark.parametrize(
    ("typed", "unit", "number"),
    [
        ("2.2", "V", "2.2"),
        ("2,2", "V", "2.2"),
        ("-41.30", "V", "-41.30"),
        ("\u221241.3", "V", "-41.3"),
        ("+5 V", "V", "5"),
        ("2.2M", "ohm", "2200000.0"),
        ("450k", "ohm", "450000"),
        ("450 kΩ", "ohm", "450000"),
        ("1 MΩ", "ohm", "1000000"),
        ("-0", "V", "0"),
    ],
)
def test_numbers_are_read_as_typed(typed: str, unit: str, number: str) -> None:
    assert parse_number(typed, unit) == Decimal(number)


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "1.000,5",
        "1,000.5",
        "1 000",
        "12a",
        "inf",
        "nan",
        "1e5",
        "0x10",
        "--3",
        ".",
        "5,",
        ",5",
        "2.2M",
        "3 mV",
        "1_000",
        "\u0663",
        "5 5",
        "9" * 50,
        "5\x00",
    ],
)
def test_anything_else_is_refused_for_a_voltage(typed: str) -> None:
    assert refusal(VOLT, typed) == "not_a_number"


@pytest.mark.parametrize("raw", [None, True, [], {}, {"typed": None}, float("inf"), float("nan")])
def test_what_is_no_text_is_no_number(raw: object) -> None:
    assert refusal(VOLT, raw) == "not_a_number"


def test_milli_is_never_taken_for_mega() -> None:
    assert refusal(OHM, "2.2m") == "not_a_number"


def test_the_stored_reading_keeps_number_unit_comparator_and_what_was_typed() -> None:
    assert parse(OHM, ">550M") == {
        "number": "550000000",
        "unit": "ohm",
        "comparator": ">",
        "typed": ">550M",
    }
    assert OHM.read(parse(OHM, "< 20k")) == Bounded(20000.0, "<")


def test_a_plain_reading_takes_no_bound() -> None:
    assert refusal(VOLT, ">5") == "no_bound_here"


@pytest.mark.parametrize("typed", ["1000.1", "-1001"])
def test_a_number_outside_what_is_possible_is_refused(typed: str) -> None:
    assert refusal(VOLT, typed) == "out_of_range"


@given(st.decimals(-999, 999, places=3))
def test_every_decimal_survives_with_comma_or_point(number: Decimal) -> None:
    plain = format(number, "f")
    assert VOLT.read(parse(VOLT, plain)) == float(plain)
    assert parse(VOLT, plain.replace(".", ","))["number"] == parse(VOLT, plain)["number"]


def test_ticks_choices_and_signatures_take_nothing_else() -> None:
    assert parse(tick("x.t", "T"), True) is True
    assert refusal(tick("x.t", "T"), False) == "not_ticked"
    assert refusal(tick("x.t", "T"), 1) == "not_ticked"
    item = choice("x.c", "C", (Choice("a", "A"),))
    assert parse(item, "a") == "a"
    assert refusal(item, "b") == "not_a_choice"
    assert parse(signature("x.s", "S"), None) == {}
    assert refusal(signature("x.s", "S"), {"id": "somebody"}) == "not_signed_here"


def test_text_loses_control_characters_and_keeps_words() -> None:
    item = text("x.w", "W")
    assert parse(item, "  wet\x00 <b>plug</b>\u202e ") == "wet <b>plug</b>\u202e"
    assert refusal(item, " \x01 ") == "text_empty"
    assert refusal(item, "x" * 4001) == "text_too_long"
    assert refusal(personal("x.p", "P"), 5) == "text_empty"


def test_picks_take_an_identifier() -> None:
    item = equipment("x.e", "E", ("meter",))
    key = "00000000-0000-4000-8000-0000000000AB"
    assert parse(item, {"id": key}) == {"id": key.lower()}
    assert refusal(item, {"id": "../etc"}) == "not_a_pick"
    assert refusal(item, None) == "not_a_pick"


def test_photos_are_named_by_digest() -> None:
    item = photo("x.f", "F")
    value = {"sha256": "a" * 64, "media_type": "image/jpeg"}
    assert parse(item, value | {"more": 1}) == value
    assert refusal(item, value | {"sha256": "../x"}) == "not_a_photo"
    assert refusal(item, value | {"media_type": "text/html"}) == "not_a_photo"
    assert refusal(item, "a" * 64) == "not_a_photo"


def test_series_need_rising_times_and_rows_of_one_length() -> None:
    item = series("x.r", "R", unit="V", low=-1000, high=1000)
    assert parse(item, [["0", "5,5"], [10, 4]]) == [["0", "5.5"], ["10", "4"]]
    for raw in (
        None,
        [["0", "1"]],
        [["0", "1"], ["0", "2"]],
        [["0", "1"], ["1", "2", "3"]],
        [["0"], ["1"]],
        [["x", "1"], ["1", "2"]],
        [["0", "1", "y"], ["1", "2", "z"]],
    ):
        assert refusal(item, raw) == "not_a_series"
    assert refusal(item, [["0", "1"], ["1", "5000"]]) == "out_of_range"


def test_tables_take_numbers_for_their_own_rows() -> None:
    item = table("x.m", "M", unit="Nm", low=0, high=100, rows=("1", "2"))
    assert item.read(parse(item, {"1": "9,0"})) == {"1": 9.0}
    assert refusal(item, {"3": "9"}) == "not_a_table"
    assert refusal(item, {}) == "not_a_table"
    assert refusal(item, {"1": "nine"}) == "not_a_number"


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=4)
    ),
    max_leaves=8,
)
EVERY = (
    OHM,
    VOLT,
    tick("x.t", "T"),
    choice("x.c", "C", (Choice("a", "A"),)),
    text("x.w", "W"),
    personal("x.p", "P"),
    photo("x.f", "F"),
    signature("x.s", "S"),
    equipment("x.e", "E", ("meter",)),
    series("x.r", "R", unit="V", low=-1000, high=1000),
    table("x.m", "M", unit="Nm", low=0, high=100),
)


@given(st.sampled_from(EVERY), JSON)
def test_no_json_value_breaks_a_parser(item: Item[Any], raw: object) -> None:
    codes = {reason.code for reason in REASONS}
    try:
        stored = parse(item, raw)
    except InputRefused as refused:
        stored = refused.blocker.code if refused.blocker.code in codes else None
    assert stored is not None
