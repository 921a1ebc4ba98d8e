import io
import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.logs.reading import read_log
from packs.logs.wanted import Columns
from packs.physics.cycle_case import CycleLog
from tests.packs.logs.small_logs import (
    COLUMNS,
    Form,
    assert_true,
    codes,
    doubts,
    said,
    true_rows,
    written,
)

DATA = Path(__file__).parents[2] / "data"
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "cp1252")
DECIMALS = ((",", ".", ""), (",", ",", '"'), (";", ",", ""), (";", ".", '"'), ("\t", ",", ""))


def reference(name: str, delimiter: str, current_sign: str) -> tuple[CycleLog, dict[str, object]]:
    content = (DATA / f"{name}.csv").read_bytes()
    header = content.split(b"\n", 1)[0].decode().strip().split(delimiter)
    columns = Columns(
        time_s=header[0],
        current_a=header[1],
        cell_v=tuple(header[2:86]),
        temperature_c=tuple(header[86:]),
    )
    truth = json.loads((DATA / f"{name}.truth.json").read_text())
    return read_log(content, columns, current_sign), truth


def charged_ah(log: CycleLog) -> float:
    """Return what went in before anything was taken out."""
    charge_ah = np.cumsum(np.diff(log.time_s) * log.current_a[1:]) / 3600.0
    return float(charge_ah.max())


def test_the_clean_reference_is_read_as_it_stands() -> None:
    log, truth = reference("cycle_clean", ",", "charge_positive")
    assert log.cell_v.shape == (truth["rows"], 84)
    assert (log.repairs, log.doubts, log.gaps_s) == ((), (), ())
    assert np.isfinite(log.cell_v).all()
    assert log.time_s.tolist() == [20.0 * row for row in range(1494)]
    assert abs(charged_ah(log) - 43.863) < 0.2


def test_the_dirty_reference_is_repaired_and_every_repair_is_said() -> None:
    log, truth = reference("cycle_dirty", ";", "discharge_positive")
    assert log.gaps_s == (truth["gap_s"],)
    assert codes(log) == ["millivolts", "repeated_rows", "gap", "missing_values"]
    assert said(log, "repeated_rows") == "3 repeated rows were left out."
    assert said(log, "missing_values").startswith("2 cell values are missing")
    assert doubts(log) == []
    assert log.cell_v.shape == (1420, 84)
    assert 3.3 < float(np.nanmin(log.cell_v)) < float(np.nanmax(log.cell_v)) < 4.2
    assert log.temperature_c[0].tolist() == [19.4, 19.1, 19.2, 18.7]
    assert abs(charged_ah(log) - 43.078) < 0.7


def test_the_dirty_reference_with_the_wrong_sign_is_in_doubt() -> None:
    log, _ = reference("cycle_dirty", ";", "charge_positive")
    assert doubts(log) == ["current_sign_suspect"]


def test_an_open_file_is_read_like_its_bytes() -> None:
    log = read_log(io.BytesIO(written().text().encode()), COLUMNS, "charge_positive")
    assert_true(log)


FORMS = st.builds(
    lambda separators, end, trailing, before: Form(
        delimiter=separators[0],
        decimal=separators[1],
        quote=separators[2],
        end=end,
        trailing=trailing,
        before=before,
    ),
    separators=st.sampled_from(DECIMALS),
    end=st.sampled_from(("\n", "\r\n", "\r")),
    trailing=st.booleans(),
    before=st.sampled_from(((), ("Logger °C", "", "03.03.2026"))),
)


@settings(deadline=None, max_examples=50)
@given(
    form=FORMS,
    encoding=st.sampled_from(ENCODINGS),
    time=st.sampled_from(("number", "epoch", "iso", "zone", "dotted", "clock")),
    factor=st.sampled_from((1.0, 1000.0)),
    count=st.integers(min_value=8, max_value=80),
)
def test_whatever_form_a_log_is_written_in_the_arrays_are_the_same(
    form: Form, encoding: str, time: str, factor: float, count: int
) -> None:
    rows = true_rows(count)
    scaled = replace(rows, cell_v=rows.cell_v * factor)
    text = written(scaled, _times(time, rows.time_s.tolist()), form).text()
    log = read_log(text.encode(encoding), COLUMNS, "charge_positive")
    assert_true(log, rows)
    assert doubts(log) == []
    assert codes(log) == (["millivolts"] if factor > 1.0 else [])


def _times(form: str, seconds: Sequence[float]) -> list[str]:
    shown = {
        "number": lambda second: f"{second:g}",
        "epoch": lambda second: f"{1.77e9 + second:.0f}",
        "iso": lambda second: f"2026-03-03T{_clock(second)}",
        "zone": lambda second: f"2026-03-03 {_clock(second)}+01:00",
        "dotted": lambda second: f"03.03.2026 {_clock(second)}",
        "clock": _clock,
    }[form]
    return [shown(second) for second in seconds]


def _clock(second: float) -> str:
    whole = 29_700 + int(second)
    return f"{whole // 3600:02}:{whole // 60 % 60:02}:{whole % 60:02}"
