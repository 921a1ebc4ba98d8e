import json
import os
from pathlib import Path
from typing import Any

import pytest

from packs.calculations import answer
from packs.logs.text import LARGEST_LOG_BYTES

DATA = Path(__file__).parents[1] / "data"


def case(name: str, delimiter: str, current_sign: str) -> dict[str, Any]:
    path = DATA / f"{name}.csv"
    header = path.read_text(encoding="utf-8").split("\n", 1)[0].strip().split(delimiter)
    return {
        "file": str(path),
        "columns": {
            "time_s": header[0],
            "current_a": header[1],
            "cell_v": header[2:86],
            "temperature_c": header[86:],
        },
        "current_sign": current_sign,
        "modules": [{"name": f"M{at + 1}", "cells": 6} for at in range(14)],
        "replaced": ["M6"],
        "rated_ah": 52.0,
        "curve": "nmc532_graphite",
    }


def clean(**changes: Any) -> dict[str, Any]:
    return {**case("cycle_clean", ",", "charge_positive"), **changes}


def answered(asked: dict[str, Any]) -> dict[str, Any]:
    told = answer("cycle", json.dumps(asked).encode())
    assert told.valid, told.text
    result: dict[str, Any] = json.loads(told.text)
    return result


def errors(asked: dict[str, Any]) -> dict[str, str]:
    told = answer("cycle", json.dumps(asked).encode())
    assert not told.valid
    return {each["path"]: each["message"] for each in json.loads(told.text)["errors"]}


@pytest.mark.parametrize(
    ("name", "delimiter", "current_sign"),
    [("cycle_clean", ",", "charge_positive"), ("cycle_dirty", ";", "discharge_positive")],
)
def test_both_reference_logs_are_computed_from_their_file(
    name: str, delimiter: str, current_sign: str
) -> None:
    truth = json.loads((DATA / f"{name}.truth.json").read_text(encoding="utf-8"))
    result = answered(case(name, delimiter, current_sign))
    capacity_ah = truth["median_cell_capacity_ah"]
    assert result["capacity_ah_low"] <= capacity_ah <= result["capacity_ah_high"]
    assert len(result["cells"]) == truth["cells"]
    assert result["gaps_s"] == ([truth["gap_s"]] if truth["gap_s"] else [])


def test_what_was_repaired_comes_back_as_warnings() -> None:
    result = answered(case("cycle_dirty", ";", "discharge_positive"))
    codes = {warning["code"] for warning in result["warnings"]}
    assert {"millivolts", "repeated_rows", "gap", "missing_values"} <= codes


def test_a_doubt_of_the_reading_leaves_the_verdict_open() -> None:
    result = answered(case("cycle_dirty", ";", "charge_positive"))
    assert result["verdict"] == "undecided"
    told = {each["code"] for each in (*result["warnings"], *result["advice"])}
    assert "current_sign_suspect" in told


def test_the_file_is_taken_from_the_working_directory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "log.csv").write_bytes((DATA / "cycle_clean.csv").read_bytes())
    monkeypatch.chdir(tmp_path)
    assert len(answered(clean(file="log.csv"))["cells"]) == 84


def test_what_contradicts_itself_is_refused_all_at_once() -> None:
    modules = [{"name": "M1", "cells": 40}, {"name": "M1", "cells": 43}]
    told = errors(clean(modules=modules, replaced=["M1", "M9", "M1"], curve="unheard"))
    assert set(told) == {"modules", "modules.1.name", "replaced.1", "replaced.2", "curve"}
    assert "83 cells" in told["modules"]
    assert "84" in told["modules"]
    assert "'M9'" in told["replaced.1"]


def test_a_missing_column_is_named_with_its_place() -> None:
    columns = clean()["columns"]
    columns = {**columns, "cell_v": [*columns["cell_v"][:-1], "c84_x"]}
    told = errors(clean(columns=columns))
    assert list(told) == ["columns.cell_v.83"]
    assert "'c84_v'" in told["columns.cell_v.83"]


@pytest.mark.parametrize(
    ("content", "word"),
    [(b"", "empty"), (b"PK\x03\x04 and more", "archive"), (b"\x01\x02", "text")],
    ids=["empty", "packed", "binary"],
)
def test_what_is_no_log_is_refused_at_the_file(tmp_path: Path, content: bytes, word: str) -> None:
    (tmp_path / "log.csv").write_bytes(content)
    told = errors(clean(file=str(tmp_path / "log.csv")))
    assert list(told) == ["file"]
    assert word in told["file"]


def test_what_is_no_file_is_refused_at_the_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for file, word in (
        (tmp_path, "folder"),
        (tmp_path / "nowhere.csv", "not there"),
        (tmp_path / "pipe", "no plain file"),
        (tmp_path / ("x" * 300), "cannot be read"),
        ("a\0b", "not there"),
    ):
        told = errors(clean(file=str(file)))
        assert list(told) == ["file"]
        assert word in told["file"]


def test_a_file_that_may_not_be_read_is_refused_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    (tmp_path / "log.csv").write_bytes(b"x")
    monkeypatch.setattr(Path, "read_bytes", refuse)
    assert errors(clean(file=str(tmp_path / "log.csv"))) == {
        "file": "cannot be read: Permission denied"
    }


def test_a_file_beyond_the_limit_is_not_read(tmp_path: Path) -> None:
    with (tmp_path / "log.csv").open("wb") as log:
        log.truncate(LARGEST_LOG_BYTES + 1)
    assert "300 MB" in errors(clean(file=str(tmp_path / "log.csv")))["file"]
