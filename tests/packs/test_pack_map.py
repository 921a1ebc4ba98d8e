"""The pack map never claims certainty."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs.pack_map import pack_map, share_words
from packs.picture import Label
from tests.builders import a_pack


@pytest.mark.parametrize(
    ("share", "words"), [(0.994, "99%"), (0.996, ">99%"), (1.0, ">99%"), (0.61, "61%")]
)
def test_a_probability_is_rounded_but_never_up_to_certainty(share: float, words: str) -> None:
    assert share_words(share) == words


@given(st.floats(0.01, 1.0))
def test_no_probability_reads_as_certain(share: float) -> None:
    drawn = pack_map(a_pack(), shares={"M9": share})
    texts = [shape.text for shape in drawn.shapes if isinstance(shape, Label)]
    assert "100%" not in texts
    assert "100%" not in drawn.description
