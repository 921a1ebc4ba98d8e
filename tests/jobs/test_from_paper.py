"""The door and paper: what was typed in from a sheet says so, for good, and only values come."""

import json
import uuid
from datetime import timedelta

import pytest

from jobs.actions.door import Conflict
from jobs.core.entry import Kind
from jobs.models import Entry, PersonalDatum
from jobs.queries.records import job_info
from jobs.queries.verify import verify_job
from tests.jobs.conftest import Shop

STANDS = "intake.stands"


def a_sheet(shop: Shop, by: str = "munk", minutes: int = 10) -> dict[str, str]:
    """Print a sheet of the first step, write on it, and come back to the screen."""
    info = job_info(shop.job)
    assert info is not None
    written = shop.clock.now() + timedelta(minutes=minutes)
    shop.clock.advance(timedelta(minutes=30))
    return {
        "sheet": f"{info.number}-1-{info.count}",
        "written_at": written.isoformat(),
        "by": shop.people.get(by, str(uuid.uuid4())),
    }


def test_a_value_from_paper_says_which_sheet_who_wrote_it_and_when(shop: Shop) -> None:
    sheet = a_sheet(shop)
    answer = shop.enter(STANDS, "Bay 2", paper=sheet)
    assert answer.verdict == "applied"
    entry = shop.record().entries[-1]
    assert entry.paper["sheet"] == sheet["sheet"]
    assert entry.paper["by"] == shop.people["munk"]
    assert entry.person == shop.people["aster"]
    assert entry.at == shop.clock.now()
    row = Entry.objects.get(key=answer.key)
    assert json.loads(bytes(row.canonical))["paper"] == entry.paper
    assert verify_job(uuid.UUID(shop.job)) == ()


def test_what_was_entered_where_it_was_done_has_no_word_of_paper_in_its_bytes(shop: Shop) -> None:
    answer = shop.enter(STANDS, "Bay 2")
    row = Entry.objects.get(key=answer.key)
    assert row.paper is None
    assert "paper" not in json.loads(bytes(row.canonical))


def test_a_changed_column_is_found(shop: Shop) -> None:
    shop.enter(STANDS, "Bay 2")
    row = Entry.objects.latest("seq")
    row.paper = {"sheet": "invented"}
    row.pk, row.seq, row.hash = uuid.uuid4(), row.seq + 1, "0" * 64
    row.save(force_insert=True)
    faults = [fault.what for fault in verify_job(uuid.UUID(shop.job))]
    assert "the column paper differs from what was written" in faults


def test_nothing_but_values_comes_from_paper(shop: Shop) -> None:
    sheet = a_sheet(shop)
    for kind in (Kind.SIGN, Kind.HOLD, Kind.STRIKE, Kind.CLOSE, Kind.PROOF_END):
        answer = shop.send(kind, {"step": "intake", "received_by": "E. Sand"}, paper=sheet)
        assert [each.code for each in answer.blockers] == ["paper_only_values"]
    assert not PersonalDatum.objects.exists()
    assert [entry.kind for entry in shop.record().entries] == ["open"]


def test_a_writer_nobody_knows_is_refused(shop: Shop) -> None:
    answer = shop.enter(STANDS, "Bay 2", paper=a_sheet(shop, by="nobody"))
    assert [each.code for each in answer.blockers] == ["paper_writer"]


def test_paper_lends_nobody_the_right_to_enter_what_they_may_not(shop: Shop) -> None:
    triage = "intake.triage"
    by_desk = shop.enter(triage, "none", paper=a_sheet(shop, by="lorne"))
    assert [each.code for each in by_desk.blockers] == ["role_may_not"]
    typed_by_desk = shop.enter(triage, "none", by="lorne", paper=a_sheet(shop))
    assert [each.code for each in typed_by_desk.blockers] == ["role_may_not"]
    assert shop.enter(triage, "none", paper=a_sheet(shop)).verdict == "applied"


def test_a_sheet_that_cannot_be_read_is_refused(shop: Shop) -> None:
    answer = shop.enter(STANDS, "Bay 2", paper={"sheet": "7"})
    assert [each.code for each in answer.blockers] == ["paper_sheet"]


def test_the_rules_for_any_value_hold_for_paper_too(shop: Shop) -> None:
    sheet = a_sheet(shop)
    shop.enter(STANDS, "Bay 2", paper=sheet)
    again = shop.enter(STANDS, "Bay 3", paper=sheet)
    assert [each.code for each in again.blockers] == ["already_recorded"]
    odd = shop.enter("intake.odometer_km", "many", paper=sheet)
    assert odd.verdict == "refused"


def test_the_sheet_is_part_of_what_makes_two_sendings_the_same(shop: Shop) -> None:
    sheet = a_sheet(shop)
    draft = shop.draft(Kind.VALUE, "Bay 2", item=STANDS, paper=sheet)
    assert shop.post(draft).seq == shop.post(draft).seq
    with pytest.raises(Conflict):
        shop.post(shop.draft(Kind.VALUE, "Bay 2", item=STANDS, key=draft.key))
