from dataclasses import replace

import pytest

from packs.logs.wanted import Columns, located
from packs.strict_json import InputRefused
from tests.packs.logs.small_logs import COLUMNS, Form, assert_true, written

NAMES = Form().header


def problems(columns: Columns, names: tuple[str, ...] = NAMES) -> list[tuple[str, str]]:
    with pytest.raises(InputRefused) as caught:
        located(columns, names)
    return caught.value.problems


def test_case_and_spaces_do_not_matter_where_one_name_fits() -> None:
    form = Form(header=(" Time ", "CURRENT", "C1", "c2 ", "c3", "c4", "T1", "t2"))
    assert_true(written(form=form).read())


def test_an_exact_name_wins_over_one_that_is_merely_alike() -> None:
    places = located(replace(COLUMNS, cell_v=("c1",)), (*NAMES, "C1"))
    assert places.cells == (2,)


def test_every_missing_name_is_named_with_its_place_and_what_is_near() -> None:
    columns = replace(COLUMNS, current_a="curent", cell_v=("c1", "c2", "c3", "cell_9"))
    found = dict(problems(columns))
    assert set(found) == {"columns.current_a", "columns.cell_v.3"}
    assert "'current'" in found["columns.current_a"]
    assert "'time', 'current'" in found["columns.cell_v.3"]


def test_a_name_that_stands_twice_is_refused_with_both_places() -> None:
    [(path, message)] = problems(COLUMNS, (*NAMES, "c1"))
    assert path == "columns.cell_v.0"
    assert "columns 3 and 9" in message


def test_one_column_cannot_be_two_things() -> None:
    [(path, message)] = problems(replace(COLUMNS, cell_v=("c1", "c2", "c2", "c3")))
    assert path == "columns.cell_v.2"
    assert "columns.cell_v.1" in message


def test_a_log_whose_header_lacks_every_name_lists_what_there_is() -> None:
    columns = Columns(time_s="zeit", current_a="strom", cell_v=("z1",))
    with pytest.raises(InputRefused) as caught:
        written().read(columns=columns)
    assert [path for path, _ in caught.value.problems] == [
        "columns.time_s",
        "columns.current_a",
        "columns.cell_v.0",
    ]
    assert "c1" in caught.value.problems[2][1]
