import importlib
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.logs import processor
from packs.logs.reading import read_log
from packs.physics.cycle_case import CycleLog
from packs.strict_json import InputRefused
from tests.packs.logs.small_logs import COLUMNS, Form, written

PLAIN = ("", " ", "1", "-1", "+3.5", "3.5", "3.", ".5", " 3.5", "3.5 ", "1e2", "3.507", "007", "-")
ODD = ("3,5", "1.234,5", "1,234.5", "1'234.5", "3507 mV", "3.5V", "'3.5'", "1_000", "0x10", "1e400")
WORDS = ("nan", "-inf", "Infinity", "٣.٥", "3.5\u00a0", "true", "1e", "--", "65535", "9" * 40)
FIELD = st.sampled_from((*PLAIN, *ODD, *WORDS))
CHANGE = st.tuples(
    st.integers(min_value=0, max_value=59), st.integers(min_value=0, max_value=7), FIELD
)
CUT = st.tuples(
    st.integers(min_value=0, max_value=2500),
    st.integers(min_value=0, max_value=30),
    st.text(max_size=6),
)
FORMS = st.builds(
    lambda signs, quote: Form(delimiter=signs[0], decimal=signs[1], quote=quote),
    st.sampled_from(((",", "."), (";", ","), (";", "."), ("\t", ","), ("|", "."))),
    st.sampled_from(("", "", '"')),
)


def outcome(content: bytes, way: Callable[[], bool]) -> CycleLog | str:
    """Read by one way: what came out, or the refusal in words."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(processor, "can_run_polars", way)
        try:
            return read_log(content, COLUMNS, "charge_positive")
        except InputRefused as refused:
            return repr(refused.problems)


def assert_agreed(content: bytes) -> None:
    """Hold the two ways against each other, to the last bit."""
    fast, slow = outcome(content, lambda: True), outcome(content, lambda: False)
    if isinstance(fast, str) or isinstance(slow, str):
        assert fast == slow
        return
    for name in ("time_s", "current_a", "cell_v", "temperature_c"):
        np.testing.assert_array_equal(getattr(fast, name), getattr(slow, name), strict=True)
    assert (fast.repairs, fast.doubts, fast.gaps_s) == (slow.repairs, slow.doubts, slow.gaps_s)


@pytest.fixture(scope="module", autouse=True)
def needs_both(way: str) -> None:
    """Compare once, not once a way."""
    if way != "by_polars":
        pytest.skip("both ways are taken together")
    importlib.import_module("packs.logs.by_polars")


@settings(deadline=None, max_examples=150)
@given(form=FORMS, changes=st.lists(CHANGE, max_size=25), cuts=st.lists(CUT, max_size=4))
def test_both_ways_give_the_same_of_a_spoilt_log(
    form: Form, changes: list[tuple[int, int, str]], cuts: list[tuple[int, int, str]]
) -> None:
    log = written(form=form)
    for row, column, field in changes:
        log.fields[row][column] = field
    text = log.text()
    for at, removed, put in cuts:
        text = text[:at] + put + text[at + removed :]
    assert_agreed(text.encode("utf-8", errors="replace"))


@settings(deadline=None, max_examples=50)
@given(st.lists(st.lists(FIELD, min_size=8, max_size=8), min_size=2, max_size=12), FORMS)
def test_both_ways_give_the_same_of_odd_fields_only(rows: list[list[str]], form: Form) -> None:
    lines = [form.delimiter.join(row) for row in [list(form.header), *rows]]
    assert_agreed("\n".join(lines).encode())


@settings(deadline=None, max_examples=50)
@given(
    st.lists(
        st.floats(min_value=1e-9, max_value=9e8).flatmap(
            lambda number: st.sampled_from((repr(number), f"{number:.3f}", f"{number:.25e}"))
        ),
        min_size=60,
        max_size=60,
    )
)
def test_both_ways_round_alike(numbers: list[str]) -> None:
    log = written()
    for fields, number in zip(log.fields, numbers, strict=True):
        fields[6] = number
    assert_agreed(log.text().encode())
