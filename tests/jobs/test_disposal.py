"""Where a removed module went: who may say so, what is refused, and that nothing is changed."""

import csv
import io
import uuid
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse

from jobs.actions.disposal import NewDisposal, record_disposal
from jobs.core.disposal import CRITICAL, DAMAGED, HEALTHY
from jobs.core.reason import InputRefused
from jobs.models import Disposal, QuarantineWatch
from jobs.queries.disposal import OLD_DAYS, awaiting, records_of
from jobs.queries.verify import verify_all
from packs import actions as packs
from packs import queries as pack_queries
from packs.spares import QUARANTINED, SCRAPPED, NewSpare
from tests.forging import drop_trigger
from tests.jobs.conftest import Shop
from tests.yard import Yard, a_yard
from workshop import queries, sign_on
from workshop.models import Qualification

pytestmark = pytest.mark.django_db


@pytest.fixture
def yard() -> Iterator[Yard]:
    with a_yard() as watched:
        yield watched


@pytest.fixture
def over(yard: Yard) -> Yard:
    """Give a yard whose module has passed its watch and is kept there."""
    yard.keep(days=7.01)
    yard.end("kept")
    return yard


def a_record(yard: Yard, **more: Any) -> NewDisposal:
    fields: dict[str, Any] = {
        "key": str(uuid.uuid4()),
        "subject": yard.id,
        "condition": DAMAGED,
        "receiver_kind": "recycler",
        "receiver": "Nordhaven Recovery",
        "paper": "CMR 4471",
        "handed_on": queries.local_day(yard.now()),
        "weight_kg": 12.4,
        "charge_percent": 20.0,
        "terminals": True,
    }
    return NewDisposal(**{**fields, **more})


def record(yard: Yard, new: NewDisposal, by: str = "Aster", pin: str = "") -> None:
    pin = pin or yard.scene.shop.pin
    record_disposal(new=new, by=yard.scene.shop.people[by], pin=pin, now=yard.now())


def refused(yard: Yard, new: NewDisposal, **more: str) -> str:
    with pytest.raises(InputRefused) as raised:
        record(yard, new, **more)
    return raised.value.blocker.code


def tablet(yard: Yard, name: str) -> Client:
    client = Client()
    session = client.session
    session[sign_on.PERSON_KEY] = yard.scene.shop.people[name]
    session[sign_on.MARK_KEY] = queries.session_mark(yard.scene.shop.people[name])
    session[sign_on.SEEN_KEY] = yard.now().timestamp()
    session.save()
    return client


def test_a_module_awaits_disposal_from_the_end_of_its_watch_to_its_record(over: Yard) -> None:
    (waits,) = awaiting(over.now())
    assert (waits.subject.id, waits.days, waits.old) == (over.id, 7, False)
    (later,) = awaiting(over.now() + timedelta(days=OLD_DAYS))
    assert later.old
    record(over, a_record(over))
    assert awaiting(over.now()) == ()
    (kept,) = records_of(over.id)
    assert kept.values["packing"] == "P908 or LP904"
    assert kept.values["weight_kg"] == "12.4"


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"terminals": False}, "disposal_terminals"),
        ({"paper": " "}, "disposal_paper"),
        ({"receiver": ""}, "disposal_receiver"),
        ({"weight_kg": None}, "disposal_weight"),
        ({"charge_percent": 101.0}, "disposal_charge"),
        ({"handed_on": date(2100, 1, 1)}, "disposal_day"),
        ({"condition": "green"}, "disposal_class"),
        ({"condition": CRITICAL, "note": "asked"}, "disposal_critical_role"),
        ({"subject": str(uuid.UUID(int=7))}, "disposal_unknown"),
    ],
)
def test_what_is_missing_is_said_at_its_field(over: Yard, more: dict[str, Any], code: str) -> None:
    assert refused(over, a_record(over, **more)) == code
    assert records_of(over.id) == ()


def test_what_its_job_calls_wet_does_not_go_as_healthy(over: Yard) -> None:
    QuarantineWatch.objects.update(quarantine_class="leaking", condition="leaking")
    assert refused(over, a_record(over, condition=HEALTHY)) == "disposal_class_low"
    QuarantineWatch.objects.update(quarantine_class="danger")
    assert refused(over, a_record(over)) == "disposal_class_danger"
    critical = a_record(over, condition=CRITICAL)
    assert refused(over, critical, by="Thorne") == "disposal_critical_why"
    record(over, replace(critical, note="Maker collects in an approved case"), by="Thorne")


def test_a_watch_that_runs_keeps_it_here_unless_a_manager_gives_a_reason(yard: Yard) -> None:
    yard.check()
    early = a_record(yard, escort=True, note="Recycler collects with an escort")
    assert refused(yard, early) == "disposal_watched"
    assert refused(yard, replace(early, escort=False), by="Thorne") == "disposal_watched"
    assert refused(yard, replace(early, note=""), by="Thorne") == "disposal_why_early"
    assert yard.info().ended_at is None
    record(yard, early, by="Thorne")
    info = yard.info()
    assert (info.ended_how, info.ended_at) == ("handed_over", yard.now())
    assert verify_all()[1] == ()


def test_only_somebody_qualified_with_the_right_pin_hands_over(over: Yard) -> None:
    assert refused(over, a_record(over), by="Lorne") == "disposal_role"
    assert refused(over, a_record(over), pin="0000") == "disposal_pin"
    Qualification.objects.filter(person=uuid.UUID(over.scene.shop.people["Aster"])).delete()
    assert refused(over, a_record(over)) == "disposal_role"


def test_the_same_sent_again_is_one_record_and_a_correction_is_a_further_one(over: Yard) -> None:
    first = a_record(over)
    record(over, first)
    record(over, first)
    assert len(records_of(over.id)) == 1
    assert refused(over, replace(first, paper="CMR 9")) == "disposal_key_used"
    assert refused(over, a_record(over, paper="CMR 4472")) == "disposal_corrects"
    record(over, a_record(over, paper="CMR 4472", note="Number was misread"))
    wrong, right = records_of(over.id)
    assert (wrong.corrected, right.corrected) == (True, False)
    assert right.values["corrects"] == wrong.key


@pytest.mark.parametrize(
    "statement", ["UPDATE jobs_disposal SET serial = 'X'", "DELETE FROM jobs_disposal"]
)
def test_the_database_changes_no_record(over: Yard, statement: str) -> None:
    record(over, a_record(over))
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)


def test_verify_says_what_was_changed_behind_the_triggers(over: Yard) -> None:
    record(over, a_record(over))
    assert verify_all()[1] == ()
    drop_trigger("jobs_disposal_no_update")
    Disposal.objects.update(serial="X9")
    told = [fault.what for fault in verify_all()[1]]
    assert any("record 1 of the disposal of X9 was changed" in what for what in told)
    assert any("jobs_disposal_no_update" in what for what in told)


def test_a_scrapped_spare_from_elsewhere_is_disposed_of_like_a_module(over: Yard) -> None:
    by, now = uuid.UUID(over.scene.shop.people["Aster"]), over.now()
    new = NewSpare(serial="SP-77", part="P", chemistry="nmc", cells=6, provenance="A donor",
                   state=QUARANTINED)  # fmt: skip
    spare = packs.add_spare(new=new, by=by, now=now)
    record(over, a_record(over))
    assert awaiting(now) == ()
    packs.move_spare(spare_id=spare.id, state=SCRAPPED, place="Rack 9", by=by, now=now)
    (waits,) = awaiting(now)
    assert (waits.subject.id, waits.why) == (str(spare.id), "scrapped")
    record(over, a_record(over, subject=str(spare.id)))
    assert awaiting(now) == ()


def test_disposing_of_a_quarantined_spare_scraps_it_with_the_paper_in_its_life(over: Yard) -> None:
    by, now = uuid.UUID(over.scene.shop.people["Aster"]), over.now()
    new = NewSpare(serial="SP-78", part="P", chemistry="nmc", cells=6, provenance="A donor",
                   state=QUARANTINED)  # fmt: skip
    spare = packs.add_spare(new=new, by=by, now=now)
    record(over, a_record(over, subject=str(spare.id)))
    assert pack_queries.spare(spare.id).state == SCRAPPED
    assert "CMR 4471" in pack_queries.spare_events(spare.id)[-1].note


def test_the_page_shows_the_guidance_takes_the_record_and_keeps_what_was_typed(over: Yard) -> None:
    client, address = tablet(over, "Aster"), reverse("jobs:disposal", args=(over.id,))
    page = client.get(address).content.decode()
    assert "Guidance, not law" in page
    assert "SP 376" in page
    form = {
        "key": str(uuid.uuid4()),
        "condition": DAMAGED,
        "receiver_kind": "recycler",
        "receiver": "=Nordhaven",
        "handed_on": str(queries.local_day(over.now())),
        "paper": "CMR 4471",
        "weight_kg": "12,4",
        "charge_percent": "",
        "pin": over.scene.shop.pin,
    }
    answer = client.post(address, form)
    assert answer.status_code == 422
    assert "CMR 4471" in answer.content.decode()
    assert client.post(address, {**form, "terminals": "on"}).status_code == 302
    assert over.id in tablet(over, "Lorne").get(reverse("jobs:disposals")).content.decode()
    text = tablet(over, "Lorne").get(reverse("jobs:disposals_csv")).content.decode()
    headings, line = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""))
    assert len(headings) == len(line)
    assert "'=Nordhaven" in line


def test_quarantine_and_today_tell_of_what_stands_too_long(over: Yard) -> None:
    over.wait(days=OLD_DAYS)
    for name in ("quarantine", "today"):
        page = tablet(over, "Thorne").get(reverse(f"jobs:{name}")).content.decode()
        assert reverse("jobs:disposal", args=(over.id,)) in page


@pytest.mark.parametrize("name", ["disposals", "disposals_csv"])
def test_the_lists_ask_who_is_there(
    name: str, shop: Shop, client_of: Callable[[str], Client]
) -> None:
    address = reverse(f"jobs:{name}")
    assert Client().get(address).status_code == 302
    assert client_of("thorne").get(address).status_code == 200
    assert client_of("aster").get(address).status_code == (403 if name.endswith("csv") else 200)
