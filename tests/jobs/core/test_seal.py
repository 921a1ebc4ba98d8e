"""Canonical bytes, hashes, and results as JSON."""

from dataclasses import dataclass
from datetime import UTC, date, datetime

from hypothesis import given
from hypothesis import strategies as st

from jobs.core.entry import Kind
from jobs.core.seal import FIRST_PREVIOUS, canonical, fingerprint, link_hash, sealed, text_hash

SIMPLE = st.dictionaries(st.text(max_size=8), st.text(max_size=8) | st.booleans() | st.none())


@dataclass(frozen=True)
class Result:
    total_ohm: float
    when: datetime
    kinds: frozenset[str]
    inner: tuple[int, ...] = ()


@given(SIMPLE)
def test_the_order_of_names_does_not_change_the_bytes(content: dict[str, object]) -> None:
    turned = dict(reversed(list(content.items())))
    assert canonical(content) == canonical(turned)
    assert fingerprint(content) == fingerprint(turned)


def test_a_link_depends_on_its_bytes_and_on_the_link_before() -> None:
    first = link_hash(FIRST_PREVIOUS, b"{}")
    assert first != link_hash(FIRST_PREVIOUS, b"{ }")
    assert link_hash(first, b"{}") != first
    assert len(first) == 64


def test_the_salt_hides_equal_texts() -> None:
    assert text_hash("a", "Name") != text_hash("b", "Name")


def test_a_result_is_sealed_with_its_numbers_as_text() -> None:
    result = Result(1.5e6, datetime(2026, 3, 2, tzinfo=UTC), frozenset({"b", "a"}), (1, 2))
    assert sealed(result) == {
        "inner": ["1", "2"],
        "kinds": ["a", "b"],
        "total_ohm": "1500000.0",
        "when": "2026-03-02T00:00:00+00:00",
    }
    assert sealed({"d": date(2026, 3, 2), "k": Kind.SIGN, "t": True, "n": None}) == {
        "d": "2026-03-02",
        "k": "sign",
        "n": None,
        "t": True,
    }
