import io
import json
import sys
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

VIN = '{"vin": "1J9RP1A36A1644345"}'
WRONG = '{"vin": 17}'


class StandardInput:
    """What a pipe hands over: bytes."""

    def __init__(self, text: str) -> None:
        self.buffer = io.BytesIO(text.encode())


def run(*words: str) -> tuple[list[str], int]:
    """Run the command and return its lines and exit status."""
    out = io.StringIO()
    status = 0
    try:
        call_command("calc", *words, stdout=out)
    except SystemExit as ended:
        status = int(ended.code or 0)
    return out.getvalue().splitlines(), status


def problems(line: str) -> list[str]:
    return [problem["path"] for problem in json.loads(line)["errors"]]


@pytest.fixture
def piped(monkeypatch: pytest.MonkeyPatch) -> Any:
    return lambda text: monkeypatch.setattr(sys, "stdin", StandardInput(text))


def test_the_list_has_a_line_a_calculation() -> None:
    lines, status = run("--list")
    assert [line.split()[0] for line in lines][:3] == ["decay", "absence", "isolation"]
    assert status == 0


def test_a_file_is_computed(tmp_path: Path) -> None:
    file = tmp_path / "case.json"
    file.write_text(VIN)
    lines, status = run("vin", str(file))
    assert (json.loads(lines[0])["valid"], len(lines), status) == (True, 1, 0)


def test_standard_input_is_computed_when_no_file_is_named(piped: Any) -> None:
    piped(VIN)
    lines, status = run("vin")
    assert (json.loads(lines[0])["model_year"], status) == (2010, 0)


def test_input_that_cannot_be_computed_ends_with_status_two(piped: Any) -> None:
    piped(WRONG)
    lines, status = run("vin")
    assert (problems(lines[0]), status) == (["vin"], 2)


def test_a_doubtful_verdict_ends_with_status_zero(piped: Any) -> None:
    piped('{"drop_mv": 3, "current_a": 200, "meter": {"input_ohm": 1e7}, "limit_micro_ohm": 20}')
    lines, status = run("joint")
    assert (json.loads(lines[0])["verdict"], status) == ("undecided", 0)


def test_lines_are_answered_in_order_and_a_wrong_one_does_not_stop_the_rest(piped: Any) -> None:
    piped(f"{VIN}\n{WRONG}\n\n{VIN}\n")
    lines, status = run("vin", "--lines")
    assert ["errors" in json.loads(line) for line in lines] == [False, True, True, False]
    assert status == 2


def test_lines_that_can_all_be_computed_end_with_status_zero(piped: Any) -> None:
    piped(f"{VIN}\n{VIN}")
    lines, status = run("vin", "--lines")
    assert (len(lines), status) == (2, 0)


def test_no_lines_give_no_results(piped: Any) -> None:
    piped("")
    assert run("vin", "--lines") == ([], 0)


def test_the_schema_is_json() -> None:
    lines, status = run("isolation", "--schema")
    assert len(json.loads("\n".join(lines))["oneOf"]) == 2
    assert status == 0


@pytest.mark.parametrize(
    ("words", "path"),
    [
        ((), "calculation"),
        (("calibration",), "calculation"),
        (("calibration", "--schema"), "calculation"),
        (("vin", "no/such/file.json"), "file"),
        (("vin", "."), "file"),
        (("vin", "\0"), "file"),
    ],
)
def test_what_cannot_be_found_is_said_in_an_errors_object(
    words: tuple[str, ...], path: str
) -> None:
    lines, status = run(*words)
    assert (problems(lines[0]), status) == ([path], 2)
