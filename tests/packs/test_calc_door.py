"""``manage.py calc`` as a shell meets it: bytes, encodings, pipes, signals, and how it starts."""

import io
import json
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.core.management import ManagementUtility

from packs import calc_door, calculations
from packs.strict_json import LARGEST_INPUT_BYTES
from tests.house.sources import ROOT
from tests.packs.calculation_examples import EXAMPLES

VIN = b'{"vin": "1J9RP1A36A1644345"}'
DOOR = "import sys; from packs import calc_door; sys.exit(calc_door.main(sys.argv[1:]))"


class Piped:
    """Standard input as a pipe hands it over."""

    def __init__(self, raw: bytes) -> None:
        self.buffer = io.BytesIO(raw)


@pytest.fixture
def piped(monkeypatch: pytest.MonkeyPatch) -> Any:
    return lambda raw: monkeypatch.setattr(sys, "stdin", Piped(raw))


def door(*words: str, raw: bytes = b"", encoding: str = "utf-8") -> Any:
    """Run the door in a process of its own."""
    return subprocess.run(
        [sys.executable, "-c", DOOR, *words],
        cwd=ROOT,
        env={"PYTHONIOENCODING": encoding},
        input=raw,
        capture_output=True,
        check=False,
        timeout=60,
    )


def said(capsys: pytest.CaptureFixture[str]) -> list[dict[str, Any]]:
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_an_explanation_ends_with_the_verdict(
    piped: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    piped(VIN)
    assert calc_door.main(["vin", "--explain"]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "Verdict: valid"


def test_an_option_may_stand_before_the_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "case.json"
    file.write_bytes(VIN)
    assert calc_door.main(["vin", "--explain", str(file)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "Verdict: valid"


@pytest.mark.parametrize(
    ("words", "path"),
    [
        (["vin", "--explain", "--lines"], "explain"),
        (["vin", "--exlpain"], "options"),
        (["vin", "one", "two"], "options"),
        ([], "calculation"),
    ],
)
def test_words_that_do_not_fit_are_refused_as_errors(
    words: list[str], path: str, piped: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    piped(VIN)
    assert calc_door.main(words) == 2
    assert said(capsys)[0]["errors"][0]["path"] == path


def test_what_cannot_be_explained_is_refused_as_errors(
    piped: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    piped(b'{"vin": 17}')
    assert calc_door.main(["vin", "--explain"]) == 2
    assert said(capsys)[0]["errors"][0]["path"] == "vin"


@pytest.mark.parametrize(
    "raw",
    [
        b"\xef\xbb\xbf" + VIN + b"\r\n" + VIN + b"\r\n",
        VIN + b"\n" + VIN,
        b"  " + VIN + b"  \n" + VIN + b"\n",
    ],
)
def test_line_ends_and_marks_of_other_systems_are_read(
    raw: bytes, piped: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    piped(raw)
    assert calc_door.main(["vin", "--lines"]) == 0
    assert [line["valid"] for line in said(capsys)] == [True, True]


@pytest.mark.parametrize(
    "broken", [b"", b"\r", b"{", b"\xff\xfe", b"[]", b'{"vin": ' + b"[" * 9999]
)
def test_a_broken_line_gets_errors_and_the_rest_is_computed(
    broken: bytes, piped: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    piped(VIN + b"\n" + broken + b"\n" + VIN)
    assert calc_door.main(["vin", "--lines"]) == 2
    assert ["errors" in line for line in said(capsys)] == [False, True, False]


@pytest.mark.parametrize("end", [b"\n", b""])
def test_a_line_that_is_too_long_gets_one_answer(
    end: bytes, piped: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    piped(VIN + b"\n" + b"x" * (2 * LARGEST_INPUT_BYTES + 7) + end + (VIN if end else b""))
    assert calc_door.main(["vin", "--lines"]) == 2
    lines = said(capsys)
    assert ["errors" in line for line in lines] == ([False, True, False] if end else [False, True])
    assert "longer than" in lines[1]["errors"][0]["message"]


def test_a_fault_of_ours_is_said_without_a_traceback(
    piped: Any, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_name: str, _raw: bytes) -> object:
        raise RuntimeError("out of order")

    monkeypatch.setattr(calculations, "answer", broken)
    piped(VIN)
    assert calc_door.main(["vin"]) == 2
    assert "out of order" in said(capsys)[0]["errors"][0]["message"]


def test_a_closed_standard_input_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    assert calc_door.main(["vin"]) == 2
    assert said(capsys)[0]["errors"][0]["path"] == "file"


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-16", "utf-8"])
def test_any_encoding_of_the_output_will_do(encoding: str) -> None:
    data = json.loads(json.dumps(EXAMPLES["localise"]).replace("M1", "Zelle 电"))
    data["propose"] = False
    told = door("localise", "--explain", raw=json.dumps(data).encode(), encoding=encoding)
    assert (told.returncode, told.stderr) == (0, b"")
    assert "Verdict: " in told.stdout.decode(encoding)


def test_half_a_character_is_no_text_and_no_traceback() -> None:
    told = door("vin", raw=b'{"vin": "A", "\\ud800": 1}', encoding="ascii")
    assert (told.returncode, told.stderr) == (2, b"")
    assert json.loads(told.stdout)["errors"]


def test_a_reader_that_goes_away_ends_the_work_without_a_word() -> None:
    with subprocess.Popen(
        [sys.executable, "-c", DOOR, "vin", "--lines"],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as running:
        assert running.stdin
        assert running.stdout
        assert running.stderr
        running.stdin.write(VIN + b"\n")
        running.stdin.flush()
        assert b"valid" in running.stdout.readline()
        running.stdout.close()
        running.stdin.write((VIN + b"\n") * 3)
        running.stdin.close()
        assert running.wait(timeout=60) == calc_door.NOBODY_READS
        assert running.stderr.read() == b""


def test_an_interruption_ends_the_work_without_a_word() -> None:
    with subprocess.Popen(
        [sys.executable, "-c", DOOR, "vin", "--lines"],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as running:
        assert running.stdin
        assert running.stdout
        running.stdin.write(VIN + b"\n")
        running.stdin.flush()
        assert b"valid" in running.stdout.readline()
        running.send_signal(signal.SIGINT)
        assert running.wait(timeout=60) == calc_door.INTERRUPTED
        assert running.stderr
        assert running.stderr.read() == b""


def test_a_full_disk_is_one_sentence() -> None:
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("no device that is always full")
    with full.open("wb") as out:
        told = subprocess.run(
            [sys.executable, "-c", DOOR, "--list"],
            cwd=ROOT,
            stdout=out,
            stderr=subprocess.PIPE,
            check=False,
            text=True,
        )
    assert told.returncode == calc_door.NOT_WRITTEN
    assert len(told.stderr.splitlines()) == 1


def test_the_list_imports_nothing_heavy() -> None:
    heavy = ["django", "numpy", "scipy", "pydantic", "packs.calculations", "packs.inputs"]
    code = (
        "import sys; from packs import calc_door; calc_door.main(['--list']);"
        f"sys.exit(' '.join(set({heavy}) & set(sys.modules)) or 0)"
    )
    told = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        check=False,
        capture_output=True,
        text=True,
    )
    assert (told.returncode, told.stderr) == (0, "")


@pytest.mark.parametrize("example", ["joint", "leak", "vin", "absence"])
def test_a_plain_calculation_imports_neither_arrays_nor_the_web(example: str) -> None:
    code = (
        "import sys; from packs import calc_door;"
        f"status = calc_door.main(['{example}']);"
        "sys.exit(status or ' '.join({'django', 'numpy', 'scipy'} & set(sys.modules)) or 0)"
    )
    told = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        input=json.dumps(EXAMPLES[example]),
        check=False,
        capture_output=True,
        text=True,
    )
    assert (told.returncode, told.stderr) == (0, "")


def test_django_knows_the_command_with_the_same_words() -> None:
    command = ManagementUtility().fetch_command("calc")
    words = command.create_parser("manage.py", "calc").format_help()
    assert all(option in words for option in ("--list", "--schema", "--lines", "--explain"))
