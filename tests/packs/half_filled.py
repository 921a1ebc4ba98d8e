"""Draws definitions in which fields are missing or hold anything at all."""

from typing import Any

from hypothesis import strategies as st

from packs.definition_form import every_field
from tests.packs.changed_definition import table_of

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=6,
)
TOPS = sorted({each.path.partition(".")[0] for _, each in every_field()})
TABLE = table_of()


@st.composite
def contents(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a definition in which fields are missing or hold anything at all."""
    found: dict[str, Any] = {}
    for name in draw(st.sets(st.sampled_from(TOPS))):
        value = draw(st.just(TABLE.get(name)) | JSON)
        if name == "modules" and isinstance(TABLE["modules"], list):
            value = draw(st.lists(st.sampled_from(TABLE["modules"]) | JSON, max_size=4) | JSON)
        found[name] = value
    return found
