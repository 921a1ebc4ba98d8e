"""A practice job is a job like any other, and nothing of it is anywhere else."""

import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.db.models import Model
from django.urls import reverse

from jobs import models as jobs
from jobs.actions import door, quarantine, stock
from jobs.actions.booking import Booking, book_job, next_number
from jobs.actions.practice import let_time_pass
from jobs.core.draft import Draft as Sent
from jobs.core.entry import Kind
from jobs.core.reason import InputRefused
from jobs.practice.player import play
from jobs.practice.room.faults import FAULTS
from jobs.practice.scene import TECHNICIAN, Draft
from jobs.practice.tablet import Tablet
from jobs.queries import practice_shelf as shelf
from jobs.queries.belonging import jobs_of_customer
from jobs.queries.lists import closed_jobs, open_jobs
from jobs.queries.pack_jobs import jobs_by_number, removed_modules
from jobs.queries.practice import ahead_of
from jobs.queries.quarantine import due_checks, watches
from jobs.queries.records import job_by_number, job_info, record_of
from jobs.queries.today import today
from jobs.queries.verify import verify_job
from jobs.steps import STEPS
from packs import models as packs
from tests.jobs.practice.learner import Learner, a_learner, as_learner, begin
from tests.play import a_job
from workshop import clock as shop_clock
from workshop import models as workshop
from workshop import queries as shop

pytestmark = pytest.mark.django_db

REGISTERS: tuple[type[Model], ...] = (
    workshop.Customer, workshop.Vehicle, workshop.Equipment, workshop.RegisterEvent,
    workshop.Certificate, packs.PhysicalPack, packs.PhysicalPackEvent, packs.Spare,
    packs.SpareEvent, jobs.QuarantineWatch, jobs.QuarantineCheck,
)  # fmt: skip


def rows() -> dict[str, list[dict[str, object]]]:
    """Give every row of every register."""
    return {
        table.__name__: list(table._default_manager.order_by("pk").values()) for table in REGISTERS
    }


@pytest.fixture
def learner() -> Iterator[Learner]:
    with a_learner("hard_leak", slug="city-hatchback", seed=11) as hands:
        yield hands


def test_it_is_numbered_apart_and_says_that_it_is_one(learner: Learner) -> None:
    info = job_info(learner.job)
    assert info is not None
    assert info.number == "PRACTICE-000001"
    assert info.practice
    assert info.title == "PRACTICE: simulated vehicle"
    assert "PRACTICE" in info.customer.name
    assert shelf.opening_of(learner.record()) is not None
    assert verify_job(uuid.UUID(learner.job)) == ()


def test_the_shops_own_numbers_do_not_skip_over_it(learner: Learner) -> None:
    begin(learner.client, "minibus", "sound", 1)
    numbers = set(jobs.Job.objects.values_list("number", flat=True))
    assert numbers == {"PRACTICE-000001", "PRACTICE-000002"}
    # A shop whose own prefix begins alike counts its own numbers.
    assert next_number("P") == "P000001"


def test_no_query_of_real_jobs_knows_it(learner: Learner) -> None:
    play(learner, until="de_energise_check")
    now = learner.clock.now()
    day = shop.local_day(now)
    shown = today(now=now, day=day, person=learner.shop.people[TECHNICIAN])
    assert open_jobs(now=now, today=day) == ()
    assert (shown.open_count, shown.mine, shown.unsafe, shown.timers) == (0, (), (), ())
    assert closed_jobs().rows == ()
    assert job_by_number("PRACTICE-000001") is None
    assert jobs_by_number(["PRACTICE-000001"]) == {}
    assert removed_modules() == ()
    assert (watches(now), due_checks(now)) == ((), ())
    for customer in workshop.Customer.objects.all():
        assert jobs_of_customer(customer.id) == ()


def test_a_closed_one_is_in_no_list_of_closed_jobs(learner: Learner) -> None:
    now = learner.clock.now()
    jobs.Job.objects.filter(pk=learner.job).update(closed_at=now)
    assert closed_jobs().rows == ()


def test_registers_stay_as_they_are(learner: Learner) -> None:
    before = rows()
    play(learner, until="isolation_readings")
    assert rows() == before


def test_the_door_writes_into_no_register_for_it(
    learner: Learner, monkeypatch: pytest.MonkeyPatch
) -> None:
    def followed(*_what: object, **_more: object) -> None:
        raise AssertionError("a register was written")

    monkeypatch.setattr(quarantine, "follow", followed)
    for name in ("follow", "barred"):
        monkeypatch.setattr(stock, name, followed)
    play(learner, until="de_energise_check")
    assert "intake" in learner.record().signatures
    with a_job_beside(learner) as real, pytest.raises(AssertionError, match="register"):
        real()


@contextmanager
def a_job_beside(learner: Learner) -> Iterator[Callable[[], object]]:
    """Give what enters a note in a real job of the same workshop."""
    job = _a_real_job()
    person = shop.person(learner.shop.people[TECHNICIAN])
    sent = Sent(
        key=str(uuid.uuid4()), job=str(job.id), kind=Kind.VALUE, item="intake.note", value="x"
    )
    yield lambda: door.post(sent, signed_on=person, now=shop_clock.now())


def test_the_same_gates_refuse_the_same(learner: Learner) -> None:
    mine = learner.send(
        Draft(kind=Kind.SIGN, by=TECHNICIAN, value={"step": "intake", "outcome": "done"})
    )
    hold = {"step": "isolation_readings", "hold": "live_readings"}
    too_early = learner.send(Draft(kind=Kind.HOLD, by=TECHNICIAN, value=hold))
    real = _refused_in_a_real_job()
    assert [mine.codes, too_early.codes] == real
    assert {mine.verdict, too_early.verdict} == {"refused"}


def _a_real_job() -> jobs.Job:
    """Open a job of the shop's own, with an opening entry of its own."""
    person = workshop.Person.objects.get(short_name="Aster")
    vehicle = workshop.Vehicle.objects.all()[0]
    assert vehicle.customer is not None
    booking = Booking(
        key=str(uuid.uuid4()), customer_id=str(vehicle.customer.id), vehicle_id=str(vehicle.id)
    )
    job = book_job(booking=booking, by=str(person.id), now=shop_clock.now())
    return jobs.Job.objects.get(pk=uuid.UUID(job))


def _refused_in_a_real_job() -> list[frozenset[str]]:
    job, person = _a_real_job(), workshop.Person.objects.get(short_name="Aster")
    asked = (
        (Kind.SIGN, {"step": "intake", "outcome": "done"}),
        (Kind.HOLD, {"step": "isolation_readings", "hold": "live_readings"}),
    )
    found = []
    for kind, wanted in asked:
        sent = Sent(key=str(uuid.uuid4()), job=str(job.id), kind=kind, value=wanted, pin="2580")
        answer = door.post(sent, signed_on=shop.person(person.id), now=shop_clock.now())
        found.append(frozenset(point.code for point in answer.blockers))
    return found


def test_time_passes_in_this_job_alone(learner: Learner) -> None:
    before = shop_clock.now()
    other = begin(learner.client, "minibus", "sound", 1)
    learner.wait(hours=24)
    assert shop_clock.now() - before < timedelta(minutes=5)
    assert learner.record().now - shop_clock.now() == timedelta(hours=24)
    assert ahead_of(uuid.UUID(other)) == timedelta()
    learner.do(Draft(kind=Kind.VALUE, by=TECHNICIAN, item="intake.note", value="later"))
    assert learner.record().entries[-1].at - before >= timedelta(hours=24)


def test_time_never_passes_in_a_real_job() -> None:
    with a_job() as scene:
        before = scene.record()
        with pytest.raises(InputRefused):
            let_time_pass(job_id=scene.job, step=timedelta(hours=1), now=scene.clock.now())
        tablet = as_learner(scene.shop, "Thorne")
        for name in ("time", "look", "take", "read", "hint", "end"):
            address = reverse(f"jobs:practice_{name}", args=(scene.job,))
            assert tablet.client.post(address, {"seconds": "3600"}).status_code == 404
        after = record_of(scene.job, now=scene.clock.now())
        assert after is not None
        assert after.now == scene.clock.now()
        assert after.entries == before.entries
        assert not jobs.Practice.objects.exists()


@pytest.mark.parametrize("seconds", ["0", "-5", "x", "", "99999999", "2419201", "٣"])
def test_a_time_that_is_none_is_refused(learner: Learner, seconds: str) -> None:
    address = reverse("jobs:practice_time", args=(learner.job,))
    assert learner.client.post(address, {"seconds": seconds}).status_code == 302
    assert ahead_of(uuid.UUID(learner.job)) == timedelta()


def test_nobody_but_the_learner_and_managers_has_its_bench(learner: Learner) -> None:
    address = reverse("jobs:practice_cards", args=(learner.job,))
    statuses = {}
    for name in ("Aster", "Thorne"):
        person = workshop.Person.objects.get(short_name=name)
        tablet = Tablet(str(person.id), learner.own_pin)
        tablet.sign_on()
        statuses[name] = tablet.client.get(address).status_code
    assert statuses == {"Aster": 404, "Thorne": 200}


def test_a_job_made_into_practice_afterwards_is_found_out() -> None:
    with a_job() as scene:
        row = jobs.Job.objects.get(pk=scene.job)
        row.practice, row.customer, row.vehicle, row.physical_pack = True, None, None, None
        row.save()
        faults = verify_job(row.id)
        assert any("practice" in fault.what for fault in faults)


PLAIN = {"sound", "vehicle_part"}
"""Kinds of fault whose code is a word that stands on every page."""


def hidden_words(learner: Learner) -> list[str]:
    """Give what must not be told before a practice is over."""
    info = learner.info()
    return [f"{info.seed:06d}", *(set(FAULTS) - PLAIN), "leak_ohm"]


def test_no_page_and_no_answer_holds_the_fault_before_the_end(learner: Learner) -> None:
    play(learner, until="isolation_readings")
    jobs.Practice.objects.filter(pk=uuid.UUID(learner.job)).update(seed=918273)
    client, job = learner.client, learner.job
    seen = [
        client.get(reverse("jobs:step", args=(job, step.slug))).content.decode() for step in STEPS
    ]
    seen.append(client.get(reverse("jobs:record", args=(job,))).content.decode())
    for name in ("cards", "bench"):
        address = reverse(f"jobs:practice_{name}", args=(job,))
        asked = {"item": "isolation_readings.pack_reading"}
        seen.append(client.get(address, asked).content.decode())
    leads = {"red": "pole:M4:pos", "black": "enclosure"}
    asked = {"item": "isolation_readings.pack_reading", **leads}
    seen.extend(str(learner.ask(name, **asked)) for name in ("look", "read", "take"))
    text = "\n".join(seen)
    assert [word for word in hidden_words(learner) if word in text] == []
    page = client.get(reverse("jobs:practice")).content.decode()
    assert "918273" not in page
    assert client.get(reverse("jobs:practice_result", args=(job,))).status_code == 302


def test_giving_up_tells_what_it_was(learner: Learner) -> None:
    client, job = learner.client, learner.job
    answer = client.post(reverse("jobs:practice_end", args=(job,)), follow=True)
    text = answer.content.decode()
    assert "000011" in text
    assert "Hard leak in one module" in text
    assert "Given up" in text
    info = learner.info()
    assert info.ended_how == "gave_up"
    assert info.score is not None
    assert info.score["missed"] == info.score["leaking"]
    # Once it is over, its bench is gone.
    assert client.post(reverse("jobs:practice_look", args=(job,))).status_code == 404
