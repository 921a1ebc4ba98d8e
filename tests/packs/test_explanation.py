import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs.explanation import WIDTH, Line, figure, table_text, text_of
from packs.words import told, translated
from tests.packs.explanations.shown import near, number

UNITS = ["ohm", "S", "V", "A", "W", "Pa", "s", "", "K"]


@given(
    value=st.floats(1e-9, 1e12) | st.floats(-1e12, -1e-9),
    unit=st.sampled_from(UNITS),
    digits=st.integers(3, 8),
)
def test_a_figure_says_the_value_to_its_digits(value: float, unit: str, digits: int) -> None:
    text = figure(value, unit, digits)
    assert near(number(text), value, 0.6 * 10 ** (1 - digits))
    assert text.endswith(unit)


@pytest.mark.parametrize(
    ("value", "unit", "digits", "text"),
    [
        (999_960.0, "ohm", 4, "1 Mohm"),
        (999.96, "ohm", 4, "1 kohm"),
        (84_918.3, "ohm", 4, "84.92 kohm"),
        (5e-324, "V", 4, "4.941e-318 uV"),
        (-0.0, "V", 4, "0 V"),
        (None, "V", 4, "-"),
        (float("inf"), "ohm", 4, "-"),
        (1e15, "ohm", 4, "1e6 Gohm"),
        (1200.0, "Pa", 4, "1200 Pa"),
        (120_000.0, "Pa", 3, "120000 Pa"),
        (0.5, "", 4, "0.5"),
    ],
)
def test_a_figure_is_written_as_a_person_would(
    value: float | None, unit: str, digits: int, text: str
) -> None:
    assert figure(value, unit, digits) == text


WORDS = st.text(st.characters(codec="ascii", categories=["L", "N", "P", "Zs"]), max_size=250)


@given(
    lines=st.lists(
        st.builds(Line, what=WORDS.filter(str.strip), formula=WORDS, numbers=WORDS, value=WORDS),
        max_size=4,
    )
)
def test_no_line_of_the_text_is_wider_than_a_sheet(lines: list[Line]) -> None:
    assert max(map(len, text_of(lines).split("\n"))) <= WIDTH


def test_steps_are_numbered_and_headings_are_not() -> None:
    lines = [
        Line(what="Given"),
        Line(what="One", value="1"),
        Line(what="Then"),
        Line(what="Two", formula="1 + 1", value="2"),
    ]
    text = text_of(lines)
    assert [
        line.split()[0] for line in text.splitlines() if line[:1].strip() or line[1:2].strip()
    ] == [
        "Given",
        "1",
        "Then",
        "2",
    ]


def test_signs_of_equality_stand_below_each_other() -> None:
    text = text_of([Line(what="Loss", formula="P = R I^2", numbers="2 ohm x 9 A2", value="18 W")])
    columns = {line.index("=") for line in text.splitlines()[1:]}
    assert len(columns) == 1


def test_a_table_is_set_anew_in_another_language() -> None:
    """Its columns fit the words of that language, and what somebody called a thing stays."""
    german = {"module": "Modul", "reads": "zeigt", "over {limit}": "mehr als {limit}"}
    rows = [("reads", "90 V"), ("M2", told("over {limit}", limit="1 kV"))]
    table = table_text(("module", "reads"), rows)
    assert table == "module  reads\nreads   90 V\nM2      over 1 kV"
    said = translated(table, lambda text: german.get(text, text))
    assert said == "Modul  zeigt\nreads  90 V\nM2     mehr als 1 kV"
