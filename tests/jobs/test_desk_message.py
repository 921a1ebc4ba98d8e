"""Messages to a customer: made from the job, and only where they are true."""

from datetime import timedelta

import pytest

from jobs.actions import desk as acts
from jobs.core.desk import TEXTS
from jobs.practice.player import play
from jobs.practice.scene import Scene
from jobs.queries.desk import events_of
from jobs.queries.records import job_info
from jobs.queries.today import today
from jobs.report.message import Case, message_of, messages_of
from jobs.steps.reassembly.items import LID_ON
from jobs.views.page import wording_for
from tests.play import a_job, a_job_at

pytestmark = pytest.mark.django_db
KEY = "00000000-0000-4000-8000-00000000a001"


def case(scene: Scene) -> Case:
    info = job_info(scene.job)
    assert info is not None
    record = scene.record()
    return Case(info, record, wording_for(info, record), events_of(scene.job))


def test_nothing_is_said_of_a_job_in_work() -> None:
    with a_job_at("isolation_readings") as scene:
        assert messages_of(case(scene)) == {}
        assert message_of("invented", case(scene)) == ""


def test_an_open_quotation_names_amount_and_last_day() -> None:
    with a_job("hatchback-waits") as scene:
        play(scene, until="fault_localisation.quote_how")
        (kind, text) = next(iter(messages_of(case(scene)).items()))
        assert kind == "quotation"
        assert scene.recipe.plate in text
        assert "3 730.20 EUR" in text.replace("\xa0", " ").replace("\u202f", " ")
        assert "valid until" in text


def test_a_finished_job_is_ready_with_its_result_and_what_to_watch() -> None:
    with a_job("hatchback-charger") as scene:
        play(scene, closing=False)
        text = messages_of(case(scene))["ready"]
        assert "is ready to collect" in text
        assert "the vehicle was checked afterwards" in text
        assert "stop, switch off, do not charge, call us" in text
        assert "Telephone" in text


@pytest.mark.parametrize(("why", "said"), [("parts", "parts are late"), ("other", "")])
def test_a_moved_day_says_when_and_why(why: str, said: str) -> None:
    with a_job_at("isolation_readings") as scene:
        info, now = job_info(scene.job), scene.clock.now()
        assert info is not None
        assert info.promised_on is not None
        new = acts.Promise(promised_on=info.promised_on + timedelta(days=2), why=why, told="no")
        by = scene.shop.people["Lorne"]
        acts.move_promise(job_id=scene.job, key=KEY, new=new, by=by, now=now)
        text = messages_of(case(scene))["moved"]
        assert "it will be ready on" in text
        assert ("The reason: " + said in text) == bool(said)
        assert "another reason" not in text


def test_every_message_has_a_title() -> None:
    assert set(TEXTS) == {"ready", "quotation", "moved"}


def test_a_cure_that_is_over_is_told_until_the_step_is_signed() -> None:
    with a_job("hatchback-module") as scene:
        play(scene, until=LID_ON.key)
        scene.enter(LID_ON, raw=True)
        day = scene.clock.now().date()
        assert today(now=scene.clock.now(), day=day).cured == ()
        scene.wait(hours=13)
        now = scene.clock.now()
        (row,) = today(now=now, day=now.date()).cured
        assert row.cured_at is not None
        assert now - timedelta(hours=1.1) < row.cured_at < now
