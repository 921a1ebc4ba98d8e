"""What was sealed is found again from the entries, whichever order their fields come back in."""

from dataclasses import replace

import pytest

from jobs.core.entry import Json
from jobs.core.record import Record, fold
from jobs.queries.records import record_of
from jobs.queries.signed import as_signed
from jobs.steps import STEPS
from tests.play import a_job_at

pytestmark = pytest.mark.django_db


def backwards(value: Json) -> Json:
    if isinstance(value, dict):
        return {name: backwards(value[name]) for name in reversed(value)}
    return [backwards(each) for each in value] if isinstance(value, list) else value


def with_values(record: Record, found: dict[str, Json]) -> Record:
    entries = [replace(each, value=found.get(each.key, each.value)) for each in record.entries]
    packs = {} if record.pack is None else {record.revision: record.pack}
    return fold(entries, now=record.now, limits=record.limits, packs=packs)


def signed_alike(record: Record) -> dict[str, bool]:
    return {
        step.slug: as_signed(record, step, record.signatures[step.slug]).matches
        for step in STEPS
        if record.signatures[step.slug].seal is not None
    }


@pytest.mark.parametrize("slug", ["van-coolant", "minibus-module"])
def test_the_order_of_fields_is_no_part_of_what_was_sealed(slug: str) -> None:
    """A shop that moves to another database, or works on one that keeps no order of fields."""
    with a_job_at("closed", slug) as scene:
        record = record_of(scene.job, now=scene.clock.now())
        assert record is not None
        assert set(signed_alike(record).values()) == {True}
        turned = {e.key: backwards(e.value) for e in record.entries if e.kind != "sign"}
        assert signed_alike(with_values(record, turned)) == signed_alike(record)


def test_another_torque_is_not_what_was_sealed() -> None:
    with a_job_at("closed") as scene:
        record = record_of(scene.job, now=scene.clock.now())
        assert record is not None
        value = next(
            e
            for e in record.entries
            if e.item.startswith("module_swap.")
            and "torque" in e.item
            and isinstance(e.value, dict)
            and len(e.value) > 1
            and "id" not in e.value
        )
        first, second, *_ = value.value
        swapped = {**value.value, first: value.value[second], second: "1.0"}
        assert signed_alike(with_values(record, {value.key: swapped}))["module_swap"] is False
