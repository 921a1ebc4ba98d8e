"""What the desk keeps of a job: every change with who and when, nothing lost, nothing doubled."""

import uuid
from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.actions import desk as acts
from jobs.actions.booking import Booking, book_job
from jobs.actions.erasing import erase_customer
from jobs.core.reason import InputRefused
from jobs.models import DeskEvent, Job
from jobs.queries.desk import desk_now, desks, events_of, keys_kept
from jobs.queries.lists import open_now
from jobs.queries.today import today
from jobs.queries.verify import verify_all
from jobs.triggers import create_triggers, missing_triggers
from tests.forging import drop_trigger
from tests.jobs.conftest import MORNING, Shop
from tests.play import a_job_at
from workshop import actions as registers
from workshop.errors import NotAllowed
from workshop.models import Customer, Vehicle

ClientOf = Callable[[str], Client]
DAY = MORNING.date()


def key(number: int = 1) -> str:
    return str(uuid.UUID(int=number))


def said(refused: pytest.ExceptionInfo[InputRefused]) -> tuple[str, str]:
    return refused.value.blocker.code, refused.value.blocker.item


def call(shop: Shop, number: int = 1, **more: object) -> None:
    fields: dict[str, object] = {"way": "we", "text": "Told her about the lid.", **more}
    acts.log_call(
        job_id=shop.job,
        key=key(number),
        call=acts.Call(**fields),  # type: ignore[arg-type]
        by=shop.people["lorne"],
        now=shop.clock.now(),
    )


def move(shop: Shop, number: int = 1, **where: str) -> None:
    now, by = shop.clock.now(), shop.people["lorne"]
    acts.move(job_id=shop.job, key=key(number), where=where, by=by, now=now)


def promise(shop: Shop, day: date | None, number: int = 1, **more: str) -> None:
    new = acts.Promise(promised_on=day, **{"why": "parts", "told": "no", **more})
    acts.move_promise(
        job_id=shop.job, key=key(number), new=new, by=shop.people["lorne"], now=shop.clock.now()
    )


def test_facts_are_booked_changed_and_keep_their_history(shop: Shop) -> None:
    van = Vehicle.objects.create(plate="MK-9", created_at=MORNING, customer=Customer.objects.get())
    booking = Booking(
        key=key(9),
        customer_id=str(Customer.objects.get().id),
        vehicle_id=str(van.id),
        facts={"payer": "insurer", "insurer": "Quayside Mutual", "claim": "", "warranty": ""},
        assigned=shop.people["aster"],
    )
    job = book_job(booking=booking, by=shop.people["lorne"], now=MORNING)
    first = desk_now(job)
    assert (first.payer, first.insurer) == ("insurer", "Quayside Mutual")
    assert first.assigned == shop.people["aster"]
    facts = {"payer": "insurer", "insurer": "Quayside Mutual", "claim": "QM-77", "warranty": "none"}
    acts.set_facts(job_id=job, key=key(), facts=facts, by=shop.people["munk"], now=MORNING)
    assert (desk_now(job).claim, desk_now(job).warranty) == ("QM-77", "none")
    written = [each for each in events_of(job) if each.kind == "facts"]
    assert [(each.person, dict(each.words)) for each in written] == [
        (shop.people["lorne"], {"insurer": "Quayside Mutual"}),
        (shop.people["munk"], {"claim": "QM-77"}),
    ]
    with pytest.raises(InputRefused) as refused:
        acts.set_facts(job_id=job, key=key(2), facts=facts, by=shop.people["munk"], now=MORNING)
    assert said(refused) == ("desk_nothing_new", "")


def test_a_booking_that_assigns_somebody_who_left_books_nothing(shop: Shop) -> None:
    registers.retire_person(person_id=shop.people["munk"], by=shop.people["thorne"])
    van = Vehicle.objects.create(plate="MK-9", created_at=MORNING, customer=Customer.objects.get())
    booking = Booking(
        key=key(9),
        customer_id=str(Customer.objects.get().id),
        vehicle_id=str(van.id),
        assigned=shop.people["munk"],
    )
    with pytest.raises(InputRefused) as refused:
        book_job(booking=booking, by=shop.people["lorne"], now=MORNING)
    assert said(refused) == ("desk_retired", "person")
    assert not Job.objects.filter(pk=key(9)).exists()


@pytest.mark.parametrize(
    ("who", "code"), [("lorne", "desk_not_on_jobs"), ("nobody", "desk_no_person")]
)
def test_a_job_is_assigned_to_somebody_who_repairs(shop: Shop, who: str, code: str) -> None:
    person = shop.people.get(who, key(77))
    give = {"job_id": shop.job, "by": shop.people["lorne"], "now": MORNING}
    with pytest.raises(InputRefused) as refused:
        acts.assign(key=key(), person_id=person, **give)  # type: ignore[arg-type]
    assert said(refused) == (code, "person")
    acts.assign(key=key(), person_id=shop.people["aster"], **give)  # type: ignore[arg-type]
    assert desk_now(shop.job).assigned == shop.people["aster"]
    acts.assign(key=key(2), person_id="", **give)  # type: ignore[arg-type]
    assert desk_now(shop.job).assigned == ""


def test_vehicle_and_keys_are_moved_and_every_move_stays(shop: Shop) -> None:
    move(shop, place="yard", spot="row 3", hook="12")
    shop.clock.moment += timedelta(hours=1)
    move(shop, 2, place="bay", spot="2", hook="12")
    now = desk_now(shop.job)
    assert (now.place, now.spot, now.hook) == ("bay", "2", "12")
    assert now.moved is not None
    assert now.moved.at == shop.clock.now()
    assert [dict(each.values) for each in events_of(shop.job)] == [
        {"place": "yard", "spot": "row 3", "hook": "12"},
        {"place": "bay", "spot": "2"},
    ]
    with pytest.raises(InputRefused) as refused:
        move(shop, 3, place="roof")
    assert said(refused) == ("desk_not_offered", "place")


def test_keys_that_the_record_says_are_away_hang_nowhere_else(db: None) -> None:
    with a_job_at("isolation_readings") as scene:
        now, by = scene.clock.now(), scene.shop.people["Lorne"]
        kept = keys_kept(scene.job, now)
        assert kept is not None
        assert kept.person in scene.shop.people.values()
        with pytest.raises(InputRefused) as refused:
            acts.move(job_id=scene.job, key=key(), where={"hook": "4"}, by=by, now=now)
        assert said(refused) == ("desk_keys_locked", "hook")
        acts.move(job_id=scene.job, key=key(), where={"place": "bay"}, by=by, now=now)
        row = next(r for r in open_now(now=now, today=now.date()).rows if r.job.id == scene.job)
        assert row.keys == kept
        assert row.desk.place == "bay"
        assert verify_all()[1] == ()


@pytest.mark.parametrize(
    ("days", "more", "code", "field"),
    [
        (-1, {}, "desk_promised_past", "promised_on"),
        (1, {}, "desk_promised_early", "promised_on"),
        (9, {"why": ""}, "desk_say_why", "why"),
        (9, {"why": "moon"}, "desk_not_offered", "why"),
        (9, {"told": ""}, "desk_say_told", "told"),
        (5, {}, "desk_nothing_new", "promised_on"),
    ],
)
def test_a_promised_day_is_not_moved_to_nonsense(
    shop: Shop, days: int, more: dict[str, str], code: str, field: str
) -> None:
    arrives = DAY + timedelta(days=2) if code == "desk_promised_early" else None
    Job.objects.update(promised_on=DAY + timedelta(days=5), arrives_on=arrives)
    with pytest.raises(InputRefused) as refused:
        promise(shop, DAY + timedelta(days=days), 1, **more)
    assert said(refused) == (code, field)
    assert Job.objects.get().promised_on == DAY + timedelta(days=5)


def test_a_promise_moved_without_a_word_to_the_customer_is_a_call_to_make(shop: Shop) -> None:
    Job.objects.update(promised_on=DAY + timedelta(days=2))
    promise(shop, DAY + timedelta(days=4), note="The carrier lost it.")
    assert Job.objects.get().promised_on == DAY + timedelta(days=4)
    (due,) = today(now=shop.clock.now(), day=DAY).to_call
    assert due.untold is not None
    assert due.untold.values["why"] == "parts"
    call(shop, 2, text="Told him Friday.", told=True)
    assert today(now=shop.clock.now(), day=DAY).to_call == ()


def test_a_call_due_is_on_today_until_the_next_call(shop: Shop) -> None:
    call(shop, next_on=DAY + timedelta(days=1), next_about="Does she want it washed?")
    assert today(now=shop.clock.now(), day=DAY).to_call == ()
    tomorrow = shop.clock.now() + timedelta(days=1)
    (due,) = today(now=tomorrow, day=tomorrow.date()).to_call
    assert due.due is not None
    assert due.due.about == "Does she want it washed?"
    Job.objects.update(closed_at=MORNING)
    (after,) = today(now=tomorrow, day=tomorrow.date()).to_call
    assert after.job.number == "W000001"
    call(shop, 2)
    assert today(now=tomorrow, day=tomorrow.date()).to_call == ()


@pytest.mark.parametrize(
    ("more", "code", "field"),
    [
        ({"way": ""}, "desk_not_offered", "way"),
        ({"text": "  "}, "desk_say_what", "text"),
        ({"next_on": DAY - timedelta(days=1)}, "desk_due_past", "next_on"),
    ],
)
def test_a_call_says_who_called_and_what_was_said(
    shop: Shop, more: dict[str, object], code: str, field: str
) -> None:
    with pytest.raises(InputRefused) as refused:
        call(shop, 1, **more)
    assert said(refused) == (code, field)
    assert not DeskEvent.objects.exists()


def test_what_is_sent_twice_is_written_once_and_a_key_says_one_thing(shop: Shop) -> None:
    call(shop)
    call(shop)
    assert DeskEvent.objects.count() == 1
    with pytest.raises(InputRefused) as refused:
        move(shop, place="yard")
    assert said(refused) == ("desk_key_used", "")


def test_a_note_to_the_next_shift_stands_until_somebody_has_read_it(shop: Shop) -> None:
    by, now = shop.people["aster"], shop.clock.now()
    acts.write_note(key=key(), text="Gate 2 sticks.", by=by, now=now)
    acts.write_note(job_id=shop.job, key=key(2), text="Wait for the seal.", by=by, now=now)
    found = today(now=now, day=DAY)
    assert [note.text for note in found.notes] == ["Gate 2 sticks."]
    assert [note.text for _, note in found.job_notes] == ["Wait for the seal."]
    acts.settle(about=key(), key=key(3), by=shop.people["munk"], now=now)
    acts.settle(about=key(), key=key(3), by=shop.people["munk"], now=now)
    (note,) = today(now=now, day=DAY).notes
    assert note.done is not None
    assert note.done.person == shop.people["munk"]
    with pytest.raises(InputRefused) as refused:
        acts.settle(about=key(), key=key(4), by=shop.people["thorne"], now=now)
    assert said(refused) == ("desk_already", "")
    with pytest.raises(InputRefused) as refused:
        acts.settle(about=key(40), key=key(5), by=by, now=now)
    assert said(refused) == ("desk_no_event", "")


def test_what_the_customer_asks_stands_until_it_is_answered(shop: Shop) -> None:
    write = {"job_id": shop.job, "kind": "asked", "by": shop.people["lorne"], "now": MORNING}
    acts.write_note(key=key(), text="Can he have the old module?", **write)  # type: ignore[arg-type]
    (asked,) = desk_now(shop.job).open_asks
    acts.settle(about=asked.event.key, key=key(2), by=shop.people["aster"], now=MORNING)
    assert desk_now(shop.job).open_asks == ()
    assert desk_now(shop.job).asks[0].done is not None


def test_a_practice_job_and_a_stranger_have_no_desk(shop: Shop) -> None:
    with pytest.raises(NotAllowed):
        acts.assign(job_id=shop.job, key=key(), person_id="", by=key(5), now=MORNING)
    practice = Job.objects.create(number="P000001", practice=True, opened_at=MORNING)
    with pytest.raises(InputRefused) as refused:
        acts.write_note(
            job_id=str(practice.id), key=key(), text="x", by=shop.people["aster"], now=MORNING
        )
    assert said(refused) == ("desk_no_job", "")


def test_erasing_a_customer_takes_every_word_of_the_desk_and_leaves_who_and_when(
    shop: Shop,
) -> None:
    call(shop, next_on=DAY, next_about="Mother is ill")
    facts = {"payer": "insurer", "insurer": "Quayside Mutual", "claim": "QM-77", "recall": "R-1"}
    by, now = shop.people["lorne"], shop.clock.now()
    acts.set_facts(job_id=shop.job, key=key(2), facts=facts, by=by, now=now)
    sent = acts.Sent("moved", "sms", "Dear Ms Ferrin")
    acts.log_text(job_id=shop.job, key=key(3), sent=sent, by=by, now=now)
    acts.write_note(job_id=shop.job, key=key(4), text="Rings at noon", by=by, now=now)
    acts.write_note(job_id=shop.job, key=key(5), kind="asked", text="Old parts?", by=by, now=now)
    move(shop, 6, place="yard")
    Job.objects.update(closed_at=MORNING)
    count = erase_customer(
        customer_id=Customer.objects.get().id, by=shop.people["thorne"], now=MORNING
    )
    assert count == 5
    assert [each.words for each in events_of(shop.job)] == [{}] * 6
    assert [each.erased for each in events_of(shop.job)] == [True] * 5 + [False]
    assert {each.person for each in events_of(shop.job)} == {by}
    assert desk_now(shop.job).payer == "insurer"
    with pytest.raises(InputRefused) as refused:
        call(shop, 7)
    assert said(refused) == ("desk_erased", "")
    rows = [str(row) for row in DeskEvent.objects.values_list()]
    assert not [row for row in rows if "Ferrin" in row or "QM-77" in row or "ill" in row]


def refuse(act: Callable[[], object]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        act()


def test_the_database_lets_nobody_change_or_take_away_what_was_written(shop: Shop) -> None:
    call(shop)
    rows = DeskEvent.objects.all()
    refuse(lambda: rows.update(kind="moved"))
    refuse(lambda: rows.update(words={"text": "something kinder"}))
    refuse(lambda: rows.update(words={}, erased_at=MORNING, person=uuid.UUID(int=3)))
    refuse(lambda: rows.update(words={}))
    refuse(rows.delete)
    assert acts.erase_words(job_id=uuid.UUID(shop.job), now=MORNING) == 1
    refuse(lambda: rows.update(words={"text": "back again"}))
    drop_trigger("jobs_deskevent_no_delete")
    assert missing_triggers() == ("jobs_deskevent_no_delete",)
    create_triggers()
    assert missing_triggers() == ()


def test_the_desk_of_all_open_jobs_takes_one_query(shop: Shop) -> None:
    call(shop)
    move(shop, 2, place="bay")
    acts.write_note(key=key(3), text="Gate", by=shop.people["aster"], now=MORNING)
    with CaptureQueriesContext(
        connection,
    ) as captured:
        found = desks(shop.clock.now(), DAY)
    assert found.of(shop.job).place == "bay"
    assert len(captured) == 1
