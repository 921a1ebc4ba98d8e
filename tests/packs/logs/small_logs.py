"""A small log with known content, written in any of the forms that instruments write."""

from dataclasses import dataclass, field, replace

import numpy as np

from packs.logs.reading import read_log
from packs.logs.wanted import Columns
from packs.physics.cycle_case import CycleLog, Floats

CELLS = 4
OHM = 0.002
COLUMNS = Columns(
    time_s="time", current_a="current", cell_v=("c1", "c2", "c3", "c4"), temperature_c=("t1", "t2")
)


@dataclass(frozen=True, kw_only=True)
class Rows:
    """The true content: charging positive, volts, degrees Celsius."""

    time_s: Floats
    current_a: Floats
    cell_v: Floats
    temperature_c: Floats


@dataclass(frozen=True, kw_only=True)
class Form:
    """How a log is written."""

    delimiter: str = ","
    decimal: str = "."
    quote: str = ""
    end: str = "\n"
    header: tuple[str, ...] = ("time", "current", "c1", "c2", "c3", "c4", "t1", "t2")
    before: tuple[str, ...] = ()
    under: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    trailing: bool = False


def true_rows(count: int = 60, step_s: float = 20.0) -> Rows:
    """Rest, charge, rest, discharge, in equal parts, with a resistance in every cell."""
    time_s = np.arange(count, dtype=np.float64) * step_s
    part = np.arange(count) * 4 // count
    current_a = np.array([0.02, 20.0, 0.01, -30.0])[part]
    charge_ah = np.cumsum(current_a) * step_s / 3600.0
    offsets = np.array([0.0, 0.002, -0.003, 0.001])
    cell_v = 3.5 + 0.02 * charge_ah[:, None] + OHM * current_a[:, None] + offsets
    temperature_c = 20.0 + charge_ah[:, None] * 0.1 + np.array([0.0, 0.4])
    return Rows(
        time_s=time_s,
        current_a=current_a,
        cell_v=np.round(cell_v, 3),
        temperature_c=np.round(temperature_c, 1),
    )


@dataclass(kw_only=True)
class Written:
    """Fields as text, to be changed before they are joined."""

    fields: list[list[str]]
    form: Form = field(default_factory=Form)

    def text(self) -> str:
        form = self.form
        ends = form.delimiter if form.trailing else ""
        lines = [form.delimiter.join(row) + ends for row in [list(form.header), *self.fields]]
        lines[1:1] = form.under
        return form.end.join([*form.before, *lines, *form.after, ""])

    def read(self, current_sign: str = "charge_positive", columns: Columns = COLUMNS) -> CycleLog:
        return read_log(self.text().encode(), columns, current_sign)


def written(
    rows: Rows | None = None, times: list[str] | None = None, form: Form | None = None
) -> Written:
    """Write rows field by field."""
    rows, form = rows or true_rows(), form or Form()
    times = times or [f"{second:g}" for second in rows.time_s]
    values = np.column_stack((rows.current_a, rows.cell_v, rows.temperature_c))
    fields = []
    for time, row in zip(times, values.tolist(), strict=True):
        numbers = [f"{value:.3f}".replace(".", form.decimal) for value in row]
        fields.append([f"{form.quote}{each}{form.quote}" for each in [time, *numbers]])
    return Written(fields=fields, form=form)


def with_cells(rows: Rows, cell_v: Floats) -> Rows:
    return replace(rows, cell_v=cell_v)


def codes(log: CycleLog) -> list[str]:
    return [message.code for message in log.repairs]


def doubts(log: CycleLog) -> list[str]:
    return [message.code for message in log.doubts]


def said(log: CycleLog, code: str) -> str:
    return next(each.text for each in (*log.repairs, *log.doubts) if each.code == code)


def assert_true(log: CycleLog, rows: Rows | None = None) -> None:
    """Hold a log against what was written."""
    rows = rows or true_rows()
    np.testing.assert_allclose(log.time_s, rows.time_s, atol=1e-6)
    np.testing.assert_allclose(log.current_a, rows.current_a, atol=1e-9)
    np.testing.assert_allclose(log.cell_v, rows.cell_v, atol=1e-9)
    np.testing.assert_allclose(log.temperature_c, rows.temperature_c, atol=1e-9)
