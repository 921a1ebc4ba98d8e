"""What is read of definitions and spares, and how often the database is asked."""

import json
from datetime import UTC, date, datetime
from uuid import uuid4

import pytest
from pytest_django.fixtures import DjangoAssertNumQueries

from packs import actions, queries
from packs.errors import InputRefused
from packs.spare_tests import SpareTest
from packs.spares import NewSpare
from tests.packs.changed_definition import changed, put, text_of

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)

pytestmark = pytest.mark.django_db


def test_a_revision_is_read_once(django_assert_num_queries: DjangoAssertNumQueries) -> None:
    revision = actions.add_pack_revision(toml=text_of("minibus"), by=None, now=NOW)
    with django_assert_num_queries(0):
        assert queries.revision(revision.id) is revision


def test_an_unknown_revision_is_refused_and_not_remembered() -> None:
    for _time in range(2):
        with pytest.raises(InputRefused, match="no such revision"):
            queries.revision(uuid4())
    with pytest.raises(InputRefused):
        queries.latest_revision("tram")


def test_a_revision_is_found_by_its_number() -> None:
    first = actions.add_pack_revision(toml=text_of(), by=None, now=NOW)
    actions.add_pack_revision(toml=changed(put("mass_kg.value", 320.0)), by=None, now=NOW)
    assert queries.numbered_revision("delivery-van", 1).id == first.id
    assert queries.revision_numbers("delivery-van") == (2, 1)
    with pytest.raises(InputRefused):
        queries.numbered_revision("delivery-van", 3)


def test_the_list_of_packs_takes_two_queries_however_long(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    for name in ("delivery-van", "city-hatchback", "minibus"):
        actions.add_pack_revision(toml=text_of(name), by=None, now=NOW)
    with django_assert_num_queries(2):
        packs = queries.packs_list()
    assert [pack.slug for pack in packs] == ["delivery-van", "city-hatchback", "minibus"]
    assert {pack.revisions for pack in packs} == {1}


def a_tested_spare() -> NewSpare:
    return NewSpare(
        serial="S-7",
        part="V12-M10",
        chemistry="lfp",
        cells=10,
        provenance="Donor minibus",
        place="Rack 1",
        test=SpareTest(
            capacity_ah=171.5,
            resistance_mohm=5.2,
            cell_v=3.281,
            tested_on=date(2026, 2, 1),
            insulation_ohm=5.5e8,
            insulation_comparator=">",
            insulation_test_v=500.0,
        ),
    )


def test_a_snapshot_keeps_what_a_job_needs_of_a_spare() -> None:
    spare = actions.add_spare(new=a_tested_spare(), by=None, now=NOW)
    snapshot = queries.spare_snapshot(spare.id, NOW)
    assert snapshot == {
        "id": str(spare.id),
        "serial": "S-7",
        "part": "V12-M10",
        "chemistry": "lfp",
        "cells": 10,
        "capacity_ah": 171.5,
        "resistance_mohm": 5.2,
        "cell_v": 3.281,
        "tested_on": "2026-02-01",
        "days_since_test": 29,
        "insulation": {"comparator": ">", "ohm": 5.5e8, "test_v": 500.0},
        "state": "in_stock",
        "quarantined": False,
        "provenance": "Donor minibus",
        "place": "Rack 1",
        "at": "2026-03-02T08:00:00+00:00",
    }
    assert json.loads(json.dumps(snapshot)) == snapshot


def test_a_snapshot_says_what_was_not_measured() -> None:
    new = NewSpare(serial="S-8", part="P", chemistry="nmc", cells=6, provenance="unknown")
    spare = actions.add_spare(new=new, by=None, now=NOW)
    snapshot = queries.spare_snapshot(spare.id, NOW)
    not_measured = {key for key, value in snapshot.items() if value is None}
    assert not_measured == {
        "capacity_ah",
        "resistance_mohm",
        "cell_v",
        "tested_on",
        "days_since_test",
        "insulation",
    }
