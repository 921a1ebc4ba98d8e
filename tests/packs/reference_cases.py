"""Every case of ``tests/data`` and one of each kind, as inputs of the calculations' JSON door."""

import json
from collections.abc import Iterator
from typing import Any

from packs.logs.preview import preview_of
from tests.packs.calculation_examples import DATA, EXAMPLES, calculation_of

__all__ = ["reference_cases"]

LOGS = {"cycle_clean": "charge_positive", "cycle_dirty": "discharge_positive"}


def _of_log(name: str) -> dict[str, Any]:
    file = DATA / f"{name}.csv"
    columns = preview_of(file.read_bytes()).columns
    assert columns is not None
    return {
        "file": str(file),
        "columns": {
            "time_s": columns.time_s,
            "current_a": columns.current_a,
            "cell_v": list(columns.cell_v),
            "temperature_c": list(columns.temperature_c),
        },
        "current_sign": LOGS[name],
        "modules": [{"name": f"M{number}", "cells": 6} for number in range(1, 15)],
        "replaced": ["M6"],
        "rated_ah": 52,
        "curve": "nmc532_graphite",
        "limits": EXAMPLES["cycle"]["limits"],
    }


def _of_data() -> Iterator[tuple[str, str, dict[str, Any]]]:
    for name in ("decay", "isolation", "leak", "localise_one_leak", "localise_two_leaks"):
        found = json.loads((DATA / f"{name}.json").read_text(encoding="utf-8"))
        rows = found["cases"] if isinstance(found, dict) else found
        for number, row in enumerate(rows):
            yield f"{name} {number}", name.partition("_")[0], row["input"]


def reference_cases() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Give each case: its name, the calculation, the input."""
    for name, given in EXAMPLES.items():
        yield f"example {name}", calculation_of(name), given
    yield from _of_data()
    for name in LOGS:
        yield name, "cycle", _of_log(name)
