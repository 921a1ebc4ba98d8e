"""Reading and writing TOML, and the words for what is wrong."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.definition_text import (
    PROBLEMS_SHOWN,
    SIZE_CAP_BYTES,
    DefinitionRefused,
    Problem,
    emit_toml,
    parse_toml,
    path_in_words,
)
from tests.packs.changed_definition import changed, problems_of, put, text_of, without


def test_a_syntax_error_names_its_line_and_column() -> None:
    lines = text_of().splitlines()
    lines[4] = "name = = 3"
    [problem] = problems_of("\n".join(lines))
    assert problem.startswith("line 5, column 8: Invalid value. Look there for")


def test_bytes_that_are_not_utf_8_are_refused() -> None:
    assert problems_of(b'name = "\xff"') == [
        "The text is not UTF-8. Save the file as UTF-8 and send it again."
    ]


def test_half_of_a_surrogate_pair_is_refused() -> None:
    assert problems_of('name = "\ud800"') == [
        "The text is not UTF-8. Save the file as UTF-8 and send it again."
    ]


def test_a_mark_at_the_start_of_the_file_is_no_obstacle() -> None:
    assert problems_of(b"\xef\xbb\xbf" + text_of().encode()) == []


def test_line_ends_of_another_system_are_no_obstacle() -> None:
    assert problems_of(text_of().replace("\n", "\r\n")) == []


def test_a_text_over_the_size_cap_is_refused_before_it_is_read() -> None:
    [problem] = problems_of("#" * (SIZE_CAP_BYTES + 1))
    assert problem.startswith("The text has 256 kB; 256 kB is the most.")


def test_a_text_at_the_size_cap_is_read() -> None:
    text = text_of()
    assert problems_of(text + "#" * (SIZE_CAP_BYTES - len(text.encode()))) == []


@pytest.mark.parametrize("opening", ["x = " + "[" * 60_000, "x = " + "{a=" * 60_000])
def test_brackets_without_end_are_refused(opening: str) -> None:
    assert len(problems_of(opening)) == 1


def test_a_number_of_thousands_of_digits_is_refused() -> None:
    [problem] = problems_of("format = " + "9" * 5000)
    assert problem.startswith("A number has too many digits.")


@pytest.mark.parametrize("field", ["format", "parallel_cells", "mass_kg"])
def test_a_number_too_long_to_write_out_is_refused(field: str) -> None:
    lines = [line for line in text_of().splitlines() if not line.startswith(f"{field} =")]
    [problem] = problems_of(f"{field} = 0x{'f' * 5000}\n" + "\n".join(lines))
    assert problem.startswith(f"{field}: a number of thousands of digits is ")


def test_a_number_beyond_all_measure_is_no_number() -> None:
    [problem] = problems_of(changed(put("mass_kg.value", 10**400)))
    assert problem.startswith("mass_kg: value: 1000000000")
    assert "is not a number" in problem


def test_a_date_is_no_text() -> None:
    text = text_of().replace('vehicle_text = "Halden Orrin', 'vehicle_text = 2026-03-02 # "')
    [problem] = problems_of(text)
    assert problem.startswith("vehicle_text: datetime.date(2026, 3, 2) is not text.")


def test_a_misspelt_field_is_named_with_the_nearest_right_one() -> None:
    problems = problems_of(changed(put("bled_a", 3.0)))
    assert problems == ['bled_a: is not a field of a pack definition. Did you mean "bleed_a"?']


def test_a_foreign_field_is_to_be_taken_out() -> None:
    problems = problems_of(changed(put("lid.colour", "grey")))
    assert problems == ["lid: colour: is not a field of a pack definition. Take it out."]


def test_only_the_first_problems_are_listed_and_the_rest_counted() -> None:
    text = changed(lambda table: table.update({f"zz{n}": n for n in range(PROBLEMS_SHOWN + 7)}))
    problems = problems_of(text)
    assert len(problems) == PROBLEMS_SHOWN + 1
    assert problems[-1].startswith("There are 7 more problems.")


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("modules.2.cells", 10.5, "modules, 3rd: cells: 10.5 is not a whole number."),
        ("modules.2.cells", "6", "modules, 3rd: cells: '6' is not a whole number."),
        ("modules.2.cells", True, "modules, 3rd: cells: true is not a whole number."),
        (
            "modules.2.cells",
            0,
            "modules, 3rd: cells: 0 is too small. Write a number of at least 1.",
        ),
        ("modules.2.cells", 900, "modules, 3rd: cells: 900 is too large."),
        ("modules.2.name", "", "modules, 3rd: name: is empty. Fill it in."),
        ("modules.2.name", "x" * 121, "modules, 3rd: name: is longer than 120 characters."),
        ("modules.2.name", "M\n3", "modules, 3rd: name: 'M\\n3' holds a character"),
        ("modules", "M1", "modules: 'M1' is not a list. Write it in square brackets"),
        ("modules", [], "modules: holds too few items. Write at least 1."),
        ("mass_kg", 310, "mass_kg: 310 is not a table. Write it as a table: { value = 5.0"),
        ("mass_kg.value", "310", "mass_kg: value: '310' is not a number."),
        ("mass_kg.value", True, "mass_kg: value: true is not a number."),
        ("mass_kg.kind", "law", "mass_kg: kind: 'law' is not one of the allowed words. Write one"),
        ("interlock", 1, "interlock: 1 is neither true nor false. Write true or false"),
        ("name", ["a"], "name: a list is not text. Put the text in quotes."),
        ("name", {"a": 1}, "name: a table is not text. Put the text in quotes."),
        ("slug", "Delivery Van", "slug: 'Delivery Van' holds a character"),
        ("mounts.stages.0.target_nm", 0, "mounts: stages, 1st: target_nm: 0 is too small."),
    ],
)
def test_a_wrong_value_is_named_in_the_words_of_its_author(
    path: str, value: object, words: str
) -> None:
    [problem] = problems_of(changed(put(path, value)))
    assert problem.startswith(words)


@pytest.mark.parametrize("word", ["nan", "inf", "-inf"])
def test_a_number_that_is_not_finite_is_refused(word: str) -> None:
    text = text_of().replace("value = 318.0", f"value = {word}")
    [problem] = problems_of(text)
    assert problem.startswith(f"mass_kg: value: {word} is not a finite number.")


def test_a_missing_field_is_named() -> None:
    assert problems_of(changed(without("mass_kg.kind"))) == ["mass_kg: kind: is missing. Add it."]


def test_a_list_of_wrong_items_is_not_called_too_short_as_well() -> None:
    def spoil(table: dict[str, object]) -> None:
        put("mounts.stages.0.target_nm", 0)(table)
        put("mounts.stages.1.target_nm", 0)(table)

    assert len(problems_of(changed(spoil))) == 2


def test_all_problems_come_at_once() -> None:
    def spoil(table: dict[str, object]) -> None:
        put("modules.0.cells", "six")(table)
        put("cooling.kind", "oil")(table)
        without("mass_kg")(table)

    assert [line.split(":")[0] for line in problems_of(changed(spoil))] == [
        "mass_kg",
        "modules, 1st",
        "cooling",
    ]


@pytest.mark.parametrize(
    ("position", "ordinal"),
    [(1, "1st"), (2, "2nd"), (3, "3rd"), (4, "4th"), (11, "11th"), (13, "13th"), (22, "22nd")],
)
def test_positions_are_counted_as_people_count(position: int, ordinal: str) -> None:
    assert path_in_words(("modules", position - 1)) == f"modules, {ordinal}"


def test_a_problem_without_a_place_reads_as_a_sentence() -> None:
    assert str(Problem("", "Wrong", "Mend it.")) == "Wrong. Mend it."


def test_a_refusal_reads_as_its_problems() -> None:
    refusal = DefinitionRefused([Problem("a", "is wrong", "Mend it."), Problem("", "Bad", "Go.")])
    assert str(refusal) == "a: is wrong. Mend it.\nBad. Go."


WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
KEYS = st.from_regex(r"[a-z][a-z_]{0,8}", fullmatch=True)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
SINGLE = WORDS | st.booleans() | st.integers(-(2**63), 2**63 - 1) | NUMBERS
FLAT = st.dictionaries(KEYS, SINGLE, max_size=3)
LISTS = st.lists(SINGLE, max_size=3) | st.lists(FLAT, max_size=3)
NESTED = st.dictionaries(KEYS, SINGLE | FLAT, max_size=2)
TABLES = st.dictionaries(KEYS, SINGLE | LISTS | FLAT | NESTED, max_size=4)


@settings(max_examples=15)
@given(TABLES)
def test_what_is_written_reads_back_to_the_same(table: dict[str, object]) -> None:
    text = emit_toml(table)
    assert tomllib.loads(text) == table
    assert parse_toml(text) == table
