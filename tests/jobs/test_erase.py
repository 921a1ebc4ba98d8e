"""What is personal goes on request, what was measured and signed stays, every chain is sound."""

import io
from collections.abc import Callable

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from jobs.actions.erasing import erase_person
from jobs.models import Job
from jobs.queries.heads import heads_faults, heads_list, read_heads
from jobs.queries.verify import verify_all
from tests.jobs.conftest import MORNING, Shop
from tests.jobs.test_attachments import a_picture
from workshop import actions, queries, signing_keys
from workshop.details import PersonDetails
from workshop.errors import Conflict
from workshop.kept_files import path_of
from workshop.models import Certificate, Customer, Person, RegisterEvent

Visit = Callable[[str], Client]


@pytest.fixture
def gone(shop: Shop) -> str:
    """Somebody who signed, held a paper, was renamed once, and has left."""
    person, manager = shop.people["munk"], shop.people["thorne"]
    shop.enter("intake.note", "one", by="munk")
    actions.set_qualification(
        person_id=person,
        code="live_work",
        expires_on=None,
        certificate="LW-90417",
        by=manager,
        file=a_picture(),
    )
    named = PersonDetails(display_name="Odo Verell", short_name="Odo", role="technician")
    actions.change_person(person_id=person, details=named, by=manager)
    actions.retire_person(person_id=person, by=manager)
    return person


def kept_words() -> str:
    people = [(row.display_name, row.short_name) for row in Person.objects.all()]
    events = [row.values for row in RegisterEvent.objects.all()]
    return repr(
        (
            people,
            events,
            [q.certificate for p in queries.people(with_former=True) for q in p.qualifications],
        )
    )


def test_name_numbers_and_files_of_a_person_go_and_the_chain_stays(shop: Shop, gone: str) -> None:
    (sha256,) = Certificate.objects.values_list("sha256", flat=True)
    before = heads_list(MORNING)
    for word in ("Odo", "Verell", "Munk", "LW-90417"):
        assert word in kept_words()
    erase_person(person_id=queries.uuid_of(gone), by=shop.people["thorne"])
    for word in ("Odo", "Verell", "Munk", "LW-90417"):
        assert word not in kept_words()
    assert not Certificate.objects.exists()
    assert not path_of(sha256).exists()
    assert verify_all()[1] == ()
    assert list(heads_faults(read_heads(before, signing_keys.trusted_keys()))) == []
    info = queries.person(gone)
    assert info is not None
    assert info.erased
    assert [each.code for each in info.qualifications] == ["live_work", "second_person"]


def test_a_file_that_somebody_else_needs_stays(shop: Shop, gone: str) -> None:
    actions.set_qualification(
        person_id=shop.people["aster"],
        code="live_work",
        expires_on=None,
        certificate="",
        by=shop.people["thorne"],
        file=a_picture(),
    )
    (sha256,) = Certificate.objects.values_list("sha256", flat=True)
    erase_person(person_id=queries.uuid_of(gone), by=shop.people["thorne"])
    assert path_of(sha256).exists()
    assert Certificate.objects.count() == 1


def test_who_works_here_is_not_erased_and_nobody_comes_back_erased(shop: Shop, gone: str) -> None:
    manager = shop.people["thorne"]
    with pytest.raises(Conflict, match="First say that this has ended"):
        erase_person(person_id=queries.uuid_of(shop.people["aster"]), by=manager)
    erase_person(person_id=queries.uuid_of(gone), by=manager)
    with pytest.raises(Conflict, match="are erased"):
        erase_person(person_id=queries.uuid_of(gone), by=manager)
    with pytest.raises(Conflict, match="are erased"):
        actions.return_person(person_id=gone, by=manager)


def test_a_manager_erases_from_the_persons_page(shop: Shop, gone: str, client_of: Visit) -> None:
    manager = client_of("thorne")
    assert f"/people/{gone}/erase/" in manager.get(f"/shop/people/{gone}/").content.decode()
    assert "Odo Verell" in manager.get(f"/people/{gone}/erase/").content.decode()
    assert client_of("aster").post(f"/people/{gone}/erase/").status_code == 403
    answer = manager.post(f"/people/{gone}/erase/", follow=True).content.decode()
    assert "The personal data were erased on request." in answer
    assert "Odo" not in answer
    assert "works here again" not in answer
    assert manager.get(f"/people/{gone}/erase/").status_code == 404
    here = shop.people["aster"]
    assert manager.get(f"/people/{here}/erase/").status_code == 404


def said(*words: str, **options: bool) -> str:
    out = io.StringIO()
    call_command("erase", *words, stdout=out, by="Thorne", **options)
    return out.getvalue()


def test_the_command_asks_for_yes_then_erases_and_verifies(shop: Shop, gone: str) -> None:
    with pytest.raises(CommandError, match="say --yes"):
        said("person", "Odo Verell")
    assert "Odo" in kept_words()
    assert "every chain is as it was written" in said("person", "Odo Verell", yes=True)
    assert "Odo" not in kept_words()
    with pytest.raises(CommandError, match="Nobody is"):
        said("person", gone, yes=True)


def test_the_command_refuses_who_is_meant_by_nobody_or_by_several(shop: Shop) -> None:
    Customer.objects.create(name="Ferrin Dairy", created_at=MORNING)
    with pytest.raises(CommandError, match="Several are called that"):
        said("customer", "Ferrin Dairy", yes=True)
    owner = Job.objects.get().customer_id
    with pytest.raises(CommandError, match="Close it first"):
        said("customer", str(owner), yes=True)
    with pytest.raises(CommandError, match="is no manager"):
        call_command("erase", "person", "nobody", by="Aster", yes=True)
