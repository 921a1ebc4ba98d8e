"""A week's finished jobs: which, how they ended, whose time, and the table."""

import csv
import io
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from jobs.practice.player import play
from jobs.practice.scene import Scene
from jobs.report.week import Week, monday_of, week_of
from tests.jobs.conftest import Shop
from tests.play import a_job, a_job_at
from workshop import queries, sign_on
from workshop.models import Person, Vehicle

pytestmark = pytest.mark.django_db


def week(scene: Scene, weeks: int = 0) -> Week:
    day = queries.local_day(scene.clock.now())
    return week_of(monday_of(day) + timedelta(days=7 * weeks))


def client_in(scene: Scene, role: str) -> Client:
    person = Person.objects.filter(role=role).earliest("display_name")
    client = Client()
    session = client.session
    session[sign_on.PERSON_KEY] = str(person.id)
    session[sign_on.MARK_KEY] = queries.session_mark(str(person.id))
    session[sign_on.SEEN_KEY] = scene.clock.now().timestamp()
    session.save()
    return client


def test_a_repaired_job_stands_in_the_week_it_was_closed_in_and_in_no_other() -> None:
    with a_job_at("closed") as scene:
        (row,) = week(scene).rows
        assert (row.how, row.leaking, row.replaced) == ("handed_over", ("M9",), 1)
        assert row.before_ohm_per_v is not None
        assert row.after_ohm_per_v is not None
        assert row.before_ohm_per_v < 500 < row.after_ohm_per_v
        assert sum(row.waited_s.values()) == pytest.approx(row.in_shop_s)
        assert week(scene).count("handed_over") == week(scene).replaced == 1
        assert week(scene, -1).rows == week(scene, 1).rows == ()


def test_a_declined_job_has_no_isolation_left_behind() -> None:
    with a_job("hatchback-declined") as scene:
        play(scene)
        (row,) = week(scene).rows
        assert (row.how, row.replaced, row.after_ohm_per_v) == ("declined", 0, None)
        assert row.before_ohm_per_v is not None


def test_an_open_job_is_not_finished() -> None:
    with a_job_at("reassembly") as scene:
        assert week(scene).rows == ()
        assert week(scene).mean_s is None


def test_the_page_keeps_its_week_in_the_address_and_never_leads_past_this_one() -> None:
    with a_job_at("closed") as scene:
        client, address = client_in(scene, "manager"), reverse("jobs:week")
        page = client.get(address).content.decode()
        assert "repaired" in page
        assert 'id="week-after"' not in page
        name = f"{week(scene, -1).monday:%G-W%V}"
        assert f"?week={name}" in page
        earlier = client.get(f"{address}?week={name}").content.decode()
        assert "No job was closed in this week." in earlier
        assert 'id="week-after"' in earlier
        assert client.get(f"{address}?week=2026-W99").status_code == 200


def test_the_table_has_every_job_and_runs_no_formula() -> None:
    with a_job_at("closed") as scene:
        Vehicle.objects.update(plate="=HYPERLINK(1)")
        answer = client_in(scene, "front_desk").get(reverse("jobs:week_csv"))
        assert answer.headers["Content-Type"] == "text/csv; charset=utf-8"
        text = answer.content.decode().removeprefix("\ufeff")
        headings, line = csv.reader(io.StringIO(text, newline=""))
        assert len(headings) == len(line)
        assert line[0] == week(scene).rows[0].job.number
        assert line[2] == "'=HYPERLINK(1)"
        assert "repaired" in line


@pytest.mark.parametrize("name", ["week", "week_csv"])
def test_manager_and_front_desk_see_it_and_nobody_else(
    name: str, shop: Shop, client_of: Callable[[str], Client]
) -> None:
    address = reverse(f"jobs:{name}")
    assert Client().get(address).status_code == 302
    assert client_of("aster").get(address).status_code == 403
    assert client_of("lorne").get(address).status_code == 200
    assert client_of("thorne").get(address).status_code == 200
