"""A customer's signature: a name, and a mark or how it was given; never half a drawing."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.drawn import HEIGHT, WIDTH, Drawn, drawn_of, drawn_text, read_drawn
from jobs.core.entry import Json
from jobs.core.item import drawn
from jobs.core.parsing import parse
from jobs.core.reason import InputRefused
from jobs.practice.pen import signature_of

LINE = [[[100, 100], [300, 200]]]


def refusal(raw: Json) -> str:
    with pytest.raises(InputRefused) as said:
        read_drawn(raw)
    return said.value.blocker.code


def test_a_name_and_a_line_are_a_signature() -> None:
    signed = read_drawn({"name": " E.  Sand ", "strokes": LINE})
    assert signed == Drawn(name="E. Sand", note="", strokes=(((100, 100), (300, 200)),))
    assert signed.words == "E. Sand"


def test_without_a_line_it_has_to_say_how_it_was_given() -> None:
    assert refusal({"name": "E. Sand"}) == "drawn_mark"
    assert read_drawn({"name": "E. Sand", "note": "on paper, filed"}).picture() is None


def test_a_touch_by_mistake_is_no_signature() -> None:
    assert (
        refusal({"name": "E. Sand", "strokes": [[[10, 10]], [[20, 20], [30, 30]]]}) == "drawn_mark"
    )


@pytest.mark.parametrize(
    "raw", [None, "E. Sand", {}, {"name": " "}, {"name": "x" * 121}, {"name": "a\x00"}]
)
def test_nobody_signs_without_a_name(raw: Json) -> None:
    assert refusal(raw) == "drawn_name"


@pytest.mark.parametrize(
    "strokes",
    [
        "scribble", [[]], [[[1]]], [[["1", "2"]]], [[[True, 1]]], [[[1.5, 2]]], [[[-1, 2]]],
        [[[WIDTH + 1, 2]]], [[[1, HEIGHT + 1]]], [[[1, 2]]] * 201, [[[1, 2]] * 5001],
    ],
    ids=[
        "text", "empty-stroke", "half-a-point", "texts", "yes", "fraction", "left", "right",
        "below", "too-many-strokes", "too-many-points",
    ],
)  # fmt: skip
def test_a_broken_drawing_is_refused(strokes: Any) -> None:
    assert refusal({"name": "E. Sand", "strokes": strokes}) == "drawn_broken"


_points = st.tuples(st.integers(0, WIDTH), st.integers(0, HEIGHT))


@given(st.lists(st.lists(_points, min_size=1, max_size=8), max_size=6))
def test_what_is_kept_reads_as_what_was_signed(strokes: list[list[tuple[int, int]]]) -> None:
    kept = Drawn(name="Ø. “Quill”", note="at the desk", strokes=tuple(map(tuple, strokes)))
    assert drawn_of(drawn_text(kept)) == kept


def test_words_that_were_typed_before_stay_words() -> None:
    for text in ("E. Sand, by telephone", "", '{"name":', '{"name":7}'):
        assert drawn_of(text) is None


def test_the_picture_keeps_the_proportions() -> None:
    picture = read_drawn({"name": "E. Sand", "strokes": LINE}).picture()
    assert picture is not None
    assert picture.height_mm / picture.width_mm == pytest.approx(HEIGHT / WIDTH)
    assert "E. Sand" in picture.description


def test_the_item_takes_it_and_names_itself_when_refused() -> None:
    item = drawn("x.signed", "Signed")
    assert drawn_of(parse(item, {"name": "E. Sand", "strokes": LINE})) is not None
    with pytest.raises(InputRefused) as said:
        parse(item, {"name": ""})
    assert said.value.blocker.item == "x.signed"


def test_invented_customers_sign_so_that_it_is_taken() -> None:
    for name in ("E. Sand", "Port Ferrin Dial-a-Ride", "Q"):
        assert read_drawn(signature_of(name)).name == name
