"""From readings to the next reading: only what may be taken, first what comes first."""

from dataclasses import replace

import pytest

from jobs.core.item import qualifier_parts
from jobs.core.leak_guide import (
    SEVERAL_FROM,
    LinkWork,
    closed_proposals,
    leak_pictures,
    open_proposals,
    suspects_of,
    two_leaks_said,
)
from jobs.core.leak_search import Searched, plug_links, search, taken_closed
from jobs.core.record import Record
from jobs.core.vehicle_guide import vehicle_proposals
from jobs.steps.isolation_readings.assessment import assess
from jobs.steps.isolation_readings.items import OUTCOME, PACK, VEHICLE
from packs.physics.localise_case import NextReading
from tests.jobs.steps.isolation_scene import (
    CHARGER,
    HEATER,
    LEAK_IN_M3,
    an_isolation_bench,
    put_tester,
    struck,
)

WORK = LinkWork(reading="r", link="l", hold="h", hold_passed=True, opened=frozenset())


def searched(record: Record) -> Searched:
    assert record.pack is not None
    return search(record, PACK, taken_closed(record, PACK), (None, plug_links(record.pack)))


@pytest.fixture(scope="module")
def record() -> Record:
    return an_isolation_bench(LEAK_IN_M3).record()


@pytest.fixture(scope="module")
def found(record: Record) -> Searched:
    return searched(record)


def proposing(found: Searched, *links: str, shunt_ohm: float | None = None) -> Searched:
    """Let the search propose one reading with these links open."""
    one = NextReading(
        module="M2", pole="pos", open_after=links, shunt_ohm=shunt_ohm, gain_bits=1.0, why="Why."
    )
    assert found.result is not None
    return replace(found, named=(), result=replace(found.result, next_readings=(one,)))


def test_a_link_that_is_closed_comes_before_the_reading(record: Record, found: Searched) -> None:
    (one,) = open_proposals(record, proposing(found, "M2", "M7"), WORK)
    assert (one.first_item, one.first_qualifier, one.first_hold) == ("l", "after=M2", "")
    opened = replace(WORK, opened=frozenset({"M2"}))
    (one,) = open_proposals(record, proposing(found, "M2", "M7"), opened)
    assert one.first is None
    assert qualifier_parts(one.qualifier) == {
        "module": "M2", "open": "M2", "pole": "pos", "shunt": "none",
    }  # fmt: skip


def test_the_hold_point_comes_before_the_link(record: Record, found: Searched) -> None:
    work = replace(WORK, hold_passed=False)
    (one,) = open_proposals(record, proposing(found, "M2", "M7"), work)
    assert (one.first_hold, one.first_item) == ("h", "")


def test_a_named_module_is_confirmed_first_where_no_link_may_open_yet(
    record: Record, found: Searched
) -> None:
    named = replace(proposing(found, "M7"), named=("M3",))
    first, *_ = open_proposals(record, named, replace(WORK, hold_passed=False))
    assert first.first_hold == "h"
    assert first.what.params["modules"] == "M3"


def test_the_closed_pack_proposes_only_points_that_have_no_value_yet(
    record: Record, found: Searched
) -> None:
    given = {one.entry.qualifier for one in record.all(PACK.reading)}
    proposals = closed_proposals(record, PACK, found)
    assert {one.qualifier for one in proposals} & given == set()
    assert closed_proposals(record, PACK, proposing(found, "M2", "M7")) == ()


def test_two_leaks_are_said_plainly_from_where_they_are_likely(found: Searched) -> None:
    assert found.result is not None
    likely = replace(found, result=replace(found.result, several_leaks_probability=SEVERAL_FROM))
    (said,) = two_leaks_said(likely)
    assert said.params["percent"] == "25"
    rare = replace(found, result=replace(found.result, several_leaks_probability=0.01))
    assert two_leaks_said(rare) == ()


def test_readings_that_agree_accuse_none(record: Record, found: Searched) -> None:
    assert suspects_of(record, PACK, found) == ()


def test_nothing_read_draws_nothing_and_proposes_nothing(record: Record) -> None:
    nothing = Searched()
    assert leak_pictures(record, PACK, nothing) == ()
    assert closed_proposals(record, PACK, nothing) == ()
    assert open_proposals(record, nothing, WORK) == ()
    assert two_leaks_said(nothing) == ()


def test_the_pictures_are_the_map_and_the_string(record: Record, found: Searched) -> None:
    pack, string = leak_pictures(record, PACK, found)
    assert "M3" in pack.description
    assert "cells from negative" in string.description


def test_a_sound_vehicle_side_proposes_no_part(record: Record) -> None:
    assert vehicle_proposals(record, VEHICLE, assess(record).vehicle) == ()


def vehicle_bench(*read: str) -> Record:
    """Give a vehicle's side that leaks, with these parts read unplugged, each discharged."""
    bench = an_isolation_bench(part=HEATER, outcome="vehicle_part")
    struck(bench, OUTCOME)
    for item in (VEHICLE.reading, VEHICLE.discharged):
        while bench.record().has(item):
            struck(bench, item)
    put_tester(bench, "nothing", "20k", ">550M")
    for part in read:
        put_tester(bench, part, "20k", ">550M")
    return bench.record()


def test_a_leaking_vehicle_side_proposes_the_parts_not_unplugged_yet_at_the_lower_cable() -> None:
    record = vehicle_bench(CHARGER)
    assert record.pack is not None
    left = [part for part in record.pack.vehicle_parts if part != CHARGER]
    proposals = vehicle_proposals(record, VEHICLE, assess(record).vehicle)
    asked = [qualifier_parts(one.qualifier) for one in proposals]
    assert [one["unplugged"] for one in asked] == left[: len(asked)]
    assert {one["pole"] for one in asked} == {"pos"}
    assert all(one.first is None for one in proposals)


def test_a_cable_is_discharged_before_the_next_part_is_unplugged() -> None:
    record = vehicle_bench(CHARGER)
    live = {key: given for key, given in record.live.items() if key != VEHICLE.discharged.key}
    bare = replace(record, live=live)
    first, *_ = vehicle_proposals(bare, VEHICLE, assess(bare).vehicle)
    assert first.first_item == VEHICLE.discharged.key
