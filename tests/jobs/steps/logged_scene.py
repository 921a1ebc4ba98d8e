"""The two reference logs as entries of the road test keep them, and variations on them."""

from copy import deepcopy
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from jobs.core.entry import Entry, Json, Kind
from jobs.core.log_entry import (
    LogAsked,
    asked_of,
    stored_asked,
    stored_messages,
    stored_result,
)
from jobs.steps.road_test.items import LOG, SPREADS, log_asked
from packs.logs.preview import preview_of
from packs.logs.reading import read_log
from packs.physics.cycle import cycle
from packs.physics.cycle_case import CycleCase, CycleLog, CycleResult
from tests.builders import Bench, a_pack
from tests.jobs.steps.repair_checks import without
from tests.jobs.steps.repair_scene import driven

DATA = Path(__file__).parents[2] / "data"
SIGN = {"cycle_clean": "charge_positive", "cycle_dirty": "discharge_positive"}
GOOD_MV = {"spread_rest_mv": 11.0, "spread_top_mv": 21.0, "spread_load_mv": 59.0}


@cache
def bytes_of(name: str) -> bytes:
    return (DATA / f"{name}.csv").read_bytes()


@cache
def log_of(name: str) -> CycleLog:
    columns = preview_of(bytes_of(name)).columns
    assert columns is not None
    return read_log(bytes_of(name), columns, SIGN[name])


def asked(bench: Bench) -> LogAsked:
    found = log_asked(bench.record())
    assert found is not None
    return found


@cache
def result_of(name: str, replaced: tuple[str, ...] = ("M10",)) -> CycleResult:
    """Judge a reference log as that of the van."""
    question = asked_of(a_pack(), replaced, Bench().limits)
    log = log_of(name)
    case = CycleCase(
        log=log,
        modules=question.modules,
        replaced=question.replaced,
        rated_ah=question.rated_ah,
        curve=question.curve,
        limits=question.limits,
    )
    return cycle(case)


def sound() -> CycleResult:
    """Give the clean log with every spread inside its limit."""
    found = result_of("cycle_clean")
    ends: dict[str, Any] = {}
    for field, value in GOOD_MV.items():
        ends |= {field: value, f"{field}_low": value - 1.0, f"{field}_high": value + 1.0}
    cells = tuple(replace(cell, flag="", flags=()) for cell in found.cells)
    return replace(found, **ends, cells=cells, warnings=(), advice=())


def stored_log(bench: Bench, result: CycleResult, **more: Json) -> Json:
    """Write a log as its entry keeps it."""
    columns = preview_of(bytes_of("cycle_clean")).columns
    assert columns is not None
    named = {"time_s": columns.time_s, "current_a": columns.current_a}
    return deepcopy(
        {
            "sha256": "a" * 64,
            "media_type": "text/csv",
            "name": "charger.csv",
            "source": "Charger",
            "columns": {
                **named,
                "cell_v": list(columns.cell_v),
                "temperature_c": list(columns.temperature_c),
            },
            "current_sign": "charge_positive",
            "clock": "",
            "began": "2026-03-02T09:00:00+00:00",
            "rows": "1494",
            "lasted_s": "29860.000",
            "calculation": "cycle",
            "version": "1",
            "asked": stored_asked(asked(bench)),
            "doubts": stored_messages(()),
            "result": stored_result(result),
            **more,
        }
    )


def put_log(bench: Bench, result: CycleResult, **more: Json) -> Entry:
    """Enter a log without asking the door."""
    value = stored_log(bench, result, **more)
    return bench.add(Kind.VALUE, value, item=LOG.key, qualifier="", effect="")


def logged(result: CycleResult | None = None, **more: Json) -> Bench:
    """Give a driven van with a log and no typed spread."""
    bench = driven()
    for item in SPREADS.values():
        without(bench, item)
    put_log(bench, sound() if result is None else result, **more)
    return bench
