"""Jobs on the pages of customers and vehicles, what a withdrawal tells, erasing on request."""

import uuid
from collections.abc import Callable
from uuid import UUID

import pytest
from django.test import Client

from jobs.actions.erasing import erase_customer
from jobs.actions.upkeep import withdraw_equipment
from jobs.models import Entry, Job, PersonalDatum
from jobs.queries.belonging import open_jobs_using
from jobs.queries.verify import verify_all
from tests.jobs.conftest import MORNING, Shop
from tests.play import a_job_at
from workshop import actions, queries
from workshop.details import EquipmentDetails, EquipmentTest
from workshop.errors import Conflict, NotAllowed
from workshop.models import Customer, Vehicle

ClientOf = Callable[[str], Client]


@pytest.fixture
def ferrin(shop: Shop) -> UUID:
    return Customer.objects.get().id


def test_a_customers_and_a_vehicles_jobs_are_listed_with_links(
    shop: Shop, ferrin: UUID, client_of: ClientOf
) -> None:
    desk, van = client_of("lorne"), Vehicle.objects.get().id
    for address in (f"/customers/{ferrin}/jobs/", f"/vehicles/{van}/jobs/"):
        page = desk.get(address).content.decode()
        assert 'id="jobs-found"' in page
        assert f'href="/jobs/{shop.job}/"' in page
        assert "W000001" in page
    assert (
        f'hx-get="/customers/{ferrin}/jobs/"'
        in desk.get(f"/shop/customers/{ferrin}/").content.decode()
    )
    Job.objects.update(closed_at=MORNING)
    assert "closed 2" in desk.get(f"/customers/{ferrin}/jobs/").content.decode()


def gloves(shop: Shop) -> str:
    return actions.add_equipment(
        details=EquipmentDetails(
            kind="gloves",
            label="G-1",
            ratings={"glove_class": "0"},
            test=EquipmentTest(tested_on=MORNING.date(), issued=True),
        ),
        by=shop.people["thorne"],
    )


def test_a_withdrawal_says_beforehand_that_no_job_uses_it(shop: Shop, client_of: ClientOf) -> None:
    pair = gloves(shop)
    page = client_of("aster").get(f"/equipment/{pair}/withdraw/").content.decode()
    assert "No open job uses it." in page
    assert "W000001" not in page


def test_a_withdrawal_is_confirmed_and_final(shop: Shop, client_of: ClientOf) -> None:
    pair = gloves(shop)
    answer = client_of("aster").post(f"/equipment/{pair}/withdraw/", {"reason": "cut"}, follow=True)
    assert "0 open jobs were told" in answer.content.decode()
    page = client_of("aster").get(f"/equipment/{pair}/withdraw/").content.decode()
    assert "It was withdrawn" in page
    assert "Withdraw from use" not in page


def test_a_withdrawal_names_the_jobs_that_it_tells(db: None) -> None:
    with a_job_at("isolation_readings") as scene:
        pair, spare = (scene.shop.equipment[label] for label in ("G1", "G2"))
        now, by = scene.clock.now(), scene.shop.people["Aster"]
        told = open_jobs_using(pair, now=now)
        assert [each.id for each in told] == [scene.job]
        assert open_jobs_using(spare, now=now) == ()
        assert withdraw_equipment(equipment_id=pair, reason="cut", by=by, now=now) == 1
        assert verify_all()[1] == ()


# ---------------------------------------------------------------- erasing


def test_erasing_waits_until_every_job_is_closed(
    shop: Shop, ferrin: UUID, client_of: ClientOf
) -> None:
    with pytest.raises(Conflict, match="W000001"):
        erase_customer(customer_id=ferrin, by=shop.people["thorne"], now=MORNING)
    answer = client_of("thorne").post(f"/customers/{ferrin}/erase/", {"asked": "on"})
    assert answer.status_code == 422
    assert "Job W000001 of this customer is open." in answer.content.decode()
    assert Customer.objects.get().name == "Ferrin Dairy"


def test_erasing_takes_every_word_and_leaves_every_chain(
    shop: Shop, ferrin: UUID, client_of: ClientOf
) -> None:
    shop.enter("intake.complaint", "red lamp since Tuesday", by="lorne")
    Job.objects.update(closed_at=MORNING)
    entries = Entry.objects.count()
    manager = client_of("thorne")
    warned = manager.get(f"/customers/{ferrin}/erase/").content.decode()
    assert "This cannot be taken back." in warned
    not_asked = manager.post(f"/customers/{ferrin}/erase/", {})
    assert not_asked.status_code == 422
    done = manager.post(f"/customers/{ferrin}/erase/", {"asked": "on"}, follow=True)
    assert "1 text erased in jobs." in done.content.decode()
    assert "Ferrin" not in done.content.decode()
    assert {each.text for each in PersonalDatum.objects.all()} == {""}
    assert Entry.objects.count() == entries
    assert verify_all()[0] == 1
    assert [fault for fault in verify_all()[1] if "closed" not in str(fault)] == []
    info = queries.customer(ferrin)
    assert info is not None
    assert info.name == "erased"
    assert manager.get(f"/customers/{ferrin}/erase/").status_code == 404
    assert manager.get(f"/customers/{ferrin}/jobs/").status_code == 200


def test_only_a_manager_erases_and_what_is_refused_erases_nothing(
    shop: Shop, ferrin: UUID, client_of: ClientOf
) -> None:
    shop.enter("intake.complaint", "red lamp", by="lorne")
    Job.objects.update(closed_at=MORNING)
    with pytest.raises(NotAllowed):
        erase_customer(customer_id=ferrin, by=shop.people["lorne"], now=MORNING)
    assert PersonalDatum.objects.filter(text="red lamp").exists()
    assert client_of("lorne").get(f"/customers/{ferrin}/erase/").status_code == 403
    nobody = uuid.UUID(int=7)
    assert client_of("thorne").get(f"/customers/{nobody}/erase/").status_code == 404
