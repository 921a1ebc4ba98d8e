"""The demonstration, the shop that is loaded to look around in, and the data of both."""

import importlib
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from jobs.core.entry import Kind
from jobs.core.item import Item
from jobs.core.order import open_step
from jobs.core.record import Record
from jobs.practice.loading import LOADED, load_jobs
from jobs.practice.mishaps import expect
from jobs.practice.player import play
from jobs.practice.scenario import fixtures, recipe, scenario
from jobs.practice.scene import DESK, MANAGER, Draft, Scene, Stuck
from jobs.practice.tour import tour
from jobs.queries.records import record_of
from jobs.steps import STEPS
from jobs.steps.fault_localisation.assessment import assess as assess_localisation
from packs.physics.vin import vin
from tests.play import MORNING, a_job, a_job_at, a_practice_shop, light_pins
from tests.running import manage
from workshop import clock as shop_clock
from workshop.models import Person

RECIPES = sorted(
    path.stem for path in (fixtures() / "jobs").glob("*.toml") if path.stem != "every-job"
)


def parts_of(value: Any) -> Iterator[Item[Any]]:
    """Give the items in a value of a module: itself, or those of a tuple."""
    if isinstance(value, Item):
        yield value
    elif isinstance(value, tuple):
        for part in value:
            yield from parts_of(part)


def keys_of(slug: str) -> set[str]:
    room = importlib.import_module(f"jobs.steps.{slug}.items")
    return {item.key for value in vars(room).values() for item in parts_of(value)}


@pytest.mark.parametrize("slug", RECIPES)
def test_a_recipe_speaks_only_of_what_is_asked_and_known(slug: str) -> None:
    told, keys = recipe(slug), set[str]().union(*(keys_of(step.slug) for step in STEPS))
    plates = [vehicle.plate for customer in scenario().customers for vehicle in customer.vehicles]
    assert set(told.words) <= keys
    assert told.plate in plates
    assert told.pack in scenario().packs


def test_the_invented_vehicles_bear_numbers_of_no_maker() -> None:
    vins = [vehicle.vin for customer in scenario().customers for vehicle in customer.vehicles]
    assert all(vin(number).valid for number in vins)
    # No region of the world was given a number that begins with zero.
    assert {number[0] for number in vins} == {"0"}
    assert len(set(vins)) == len(vins)


@pytest.mark.django_db
def test_the_tour_is_refused_where_it_should_be_and_ends_closed(tmp_path: Path) -> None:
    lines: list[str] = []
    with light_pins():
        good = tour(lines.append, tmp_path / "report.pdf")
    told = "\n".join(lines)
    assert good, told
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF")
    headings = [line[3:] for line in lines if line[:1].isdigit()]
    assert headings == [step.title for step in STEPS]
    assert all(words in told for words in ("REFUSED", "CONFLICT", "WRONG PIN", "tries left: 4"))
    assert lines[-1] == "Closed and verified."


@pytest.mark.django_db
def test_the_tour_ends_badly_where_something_is_taken_that_should_not_be() -> None:
    lines: list[str] = []

    def taken(scene: Scene) -> None:
        draft = Draft(kind=Kind.VALUE, by=DESK, item="intake.arrived", value="vehicle")
        expect(scene, draft, "refused")

    with light_pins():
        assert not tour(lines.append, None, {"intake.arrived": taken})
    assert lines[-1] == "NOT as it should be."
    assert any("has to be answered: refused (200 applied)" in line for line in lines)


@pytest.mark.django_db
def test_the_tour_ends_badly_where_its_report_cannot_be_written(tmp_path: Path) -> None:
    lines: list[str] = []

    def stop(_scene: Scene) -> None:
        raise Stuck("stop")

    with light_pins():
        assert not tour(lines.append, tmp_path / "absent" / "report.pdf", {"intake.arrived": stop})
    assert any("cannot be written" in line for line in lines)


def loaded(slug: str) -> Record:
    """Load one job of the shop and give its record at the moment of loading."""
    jobs = tuple(job for job in LOADED if job.recipe == slug)
    with light_pins(), shop_clock.use_fixed(MORNING):
        found = load_jobs(a_practice_shop(), MORNING, jobs)
        record = record_of(found[slug], now=MORNING)
    assert record is not None
    return record


@pytest.mark.django_db
def test_a_minibus_stands_still_because_its_gloves_are_out_of_test() -> None:
    record = loaded("minibus-gloves")
    step, last = open_step(STEPS, record), record.entries[-1]
    assert step is not None
    assert step.slug == "de_energise_check"
    assert record.proof is None
    assert last.kind is Kind.REFUSAL
    assert "live_gloves_lapsed" in {point["code"] for point in last.value["blockers"]}


@pytest.mark.django_db
def test_a_van_is_only_booked_in() -> None:
    record = loaded("van-harness")
    assert [entry.kind for entry in record.entries] == [Kind.OPEN]


@pytest.mark.django_db
def test_a_van_is_half_done_with_its_pack_open_and_its_module_named_not_confirmed() -> None:
    until = next(job.until for job in LOADED if job.recipe == "van-coolant")
    with a_job_at("fault_localisation") as scene:
        play(scene, until=until)
        record = scene.record()
        found = assess_localisation(record)
        assert record.pack_open
        assert record.proof_holds()
        assert found.search.named == ("M9",)
        assert found.confirmed_by == ()


@pytest.mark.django_db
def test_a_job_that_gets_further_than_it_should_is_not_loaded() -> None:
    jobs = tuple(job for job in LOADED if job.recipe == "van-harness")
    wrong = tuple(type(job)(recipe=job.recipe, hours_ago=1, until=job.until, refused="never")
                  for job in jobs)  # fmt: skip
    with light_pins(), shop_clock.use_fixed(MORNING), pytest.raises(Stuck, match="never"):
        load_jobs(a_practice_shop(), MORNING, wrong)


@pytest.mark.django_db
def test_a_wait_that_is_not_over_is_told_with_its_reason() -> None:
    with a_job() as scene:
        draft = Draft(kind=Kind.SIGN, by=MANAGER, value={"step": "road_test", "outcome": "done"})
        with pytest.raises(Stuck, match="earlier_step_open"):
            scene.do(draft)


@pytest.mark.django_db
def test_nothing_is_loaded_into_a_shops_own_database(settings: Any) -> None:
    settings.COLDBUS_MOVABLE_CLOCK = False
    with pytest.raises(CommandError, match="no practice database"):
        call_command("demo", "load")
    assert not Person.objects.exists()


@pytest.mark.django_db
def test_nothing_is_loaded_where_somebody_works_already() -> None:
    Person.objects.create(display_name="Ivy", short_name="Ivy", role="manager", created_at=MORNING)
    with pytest.raises(CommandError, match="not empty"):
        call_command("demo", "load")


@pytest.mark.bench
def test_the_command_runs_apart_from_the_shops_data(data_folder: Path) -> None:
    report = data_folder.parent / "report.pdf"
    with manage(data_folder, "demo", "run", "--report", str(report)) as run:
        told, _ = run.communicate(timeout=120)
    assert run.returncode == 0, told
    assert report.read_bytes().startswith(b"%PDF")
    assert not (data_folder / "coldbus.sqlite3").exists()
    shutil.rmtree(data_folder)
