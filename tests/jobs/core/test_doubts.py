"""What is odd about a reading is said, and no more than that: it never refuses."""

from typing import Any
from zoneinfo import ZoneInfo

import pytest

from jobs.core.doubts import REASONS, doubts_of
from jobs.core.entry import Json
from jobs.core.item import Item, bounded, reading, series
from jobs.core.parsing import parse
from jobs.core.record import Record
from jobs.report.wording import Wording
from jobs.steps.isolation_readings.items import PACK, VEHICLE
from jobs.steps.reassembly.items import LID as BOLTS
from jobs.steps.seal_test.items import SAMPLE
from jobs.views.doubts import doubts_said
from tests.builders import an_equipment
from tests.jobs.steps.isolation_scene import an_isolation_bench
from tests.jobs.steps.repair_scene import sealed_van

PLAIN = reading("isolation_readings.note_v", "Any voltage", unit="V", low=-5000, high=5000)
BOND = bounded("road_test.bond_ohm", "Bonding", unit="ohm", low=0, high=100)


def codes(item: Item[Any], typed: str) -> list[str]:
    record = an_isolation_bench().record()
    return [one.code for one in doubts_of(record, item, parse(item, typed))]


@pytest.mark.parametrize(
    ("item", "typed", "code"),
    [
        (PACK.string_v, "2.98", "doubt_slip"),
        (PACK.string_v, "1200", "doubt_outside"),
        (PACK.reading, "-412", "doubt_string"),
        (PLAIN, "1200", "doubt_beyond"),
        (VEHICLE.reading, "450", "doubt_little"),
        (VEHICLE.reading, ">450", "doubt_little"),
        (VEHICLE.reading, "5000000M", "doubt_much"),
    ],
)
def test_what_looks_like_a_slip_is_said(item: Item[Any], typed: str, code: str) -> None:
    assert code in codes(item, typed)


@pytest.mark.parametrize(
    ("item", "typed"),
    [
        (PACK.string_v, "298.6"),
        (PACK.reading, "-41.3"),
        (PACK.reading, "0"),
        (VEHICLE.reading, "450k"),
        (VEHICLE.reading, ">550M"),
        (VEHICLE.reading, "<10"),
        (BOND, "0.02"),
    ],
)
def test_an_ordinary_reading_raises_no_doubt(item: Item[Any], typed: str) -> None:
    assert codes(item, typed) == []


def test_a_reading_above_the_range_of_the_picked_instrument_names_it() -> None:
    record = an_isolation_bench().record()
    used = record.get(PACK.meter)
    assert used is not None
    (doubt,) = doubts_of(record, PLAIN, parse(PLAIN, "1001"))
    assert doubt.params["label"] == used.label


SETTLING = series("isolation_readings.any_settling", "Any settling", unit="V", low=-5000, high=5000)
WRENCH = an_equipment("torque_tool", low_nm=20, high_nm=300, tolerance_percent=4)
LONG_RANGE = an_equipment(
    "insulation_tester",
    test_voltages_v=[500], accuracy_percent=3.0, rated_v=1000, range_ohm=10_000_000_000,
)  # fmt: skip


def a_bench_with_every_tool() -> Record:
    bench = an_isolation_bench()
    bench.put(VEHICLE.tester, LONG_RANGE)
    bench.put(BOLTS.tool, WRENCH, stage="1")
    return bench.record()


@pytest.mark.parametrize(
    ("item", "raw", "codes_said"),
    [
        (SETTLING, [["0", "12"], ["5", "-1001"]], ["doubt_beyond"]),
        (SETTLING, [["0", "12"], ["5", "998"]], []),
        (BOLTS.values, {"1": "24", "2": "301"}, ["doubt_beyond"]),
        (BOLTS.values, {"1": {"clicked": "301"}}, ["doubt_beyond"]),
        (BOLTS.values, {"1": "24", "2": {"clicked": "120"}}, []),
        (VEHICLE.reading, ">11000M", ["doubt_beyond"]),
    ],
)
def test_the_largest_of_several_numbers_is_asked_about(
    item: Item[Any], raw: Json, codes_said: list[str]
) -> None:
    record = a_bench_with_every_tool()
    assert [one.code for one in doubts_of(record, item, parse(item, raw))] == codes_said


@pytest.mark.parametrize(("gauge", "unit"), [("3", "Pa"), ("3", "kPa"), ("30", "mbar")])
def test_a_sample_in_another_unit_is_said(gauge: str, unit: str) -> None:
    record = sealed_van().record()
    raw = {
        "t_s": "0", "lag_s": "0", "gauge": gauge, "gauge_unit": unit, "temp_c": "20",
        "barometer": "1013", "barometer_unit": "hPa",
    }  # fmt: skip
    said = doubts_said(record, SAMPLE, parse(SAMPLE, raw), Wording(zone=ZoneInfo("UTC")))
    assert ["slip of a thousand" in each for each in said] == ([True] if unit == "Pa" else [])


def test_doubts_have_codes_of_their_own() -> None:
    assert len({reason.code for reason in REASONS}) == len(REASONS)
    assert all(reason.code.startswith("doubt_") for reason in REASONS)
