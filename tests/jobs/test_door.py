"""The one door: who is let in, what is applied once, what is refused and recorded."""

from datetime import timedelta

import pytest

from jobs.actions.door import Conflict
from jobs.core.entry import Kind
from jobs.models import Entry, PersonalDatum, Verdict
from tests.jobs.conftest import Shop

COMPLAINT = "intake.complaint"
LAMPS = "intake.note"


def kinds(shop: Shop) -> list[str]:
    return [entry.kind for entry in shop.record().entries]


def test_nobody_signed_on_gets_no_further_than_the_door(shop: Shop) -> None:
    draft = shop.draft(Kind.VALUE, "wet", item=LAMPS)
    assert shop.post(draft, by="").verdict == "auth"
    assert not Verdict.objects.exists()
    assert shop.post(draft).verdict == "applied"


def test_an_applied_entry_is_in_the_record_with_who_and_when(shop: Shop) -> None:
    answer = shop.enter(LAMPS, "wet after rain", by="lorne")
    entry = shop.record().entries[-1]
    assert answer.verdict == "applied"
    assert (entry.key, entry.seq, entry.person) == (answer.key, answer.seq, shop.people["lorne"])
    assert entry.at == shop.clock.now()


def test_the_same_entry_sent_again_gives_the_same_answer_and_one_entry(shop: Shop) -> None:
    draft = shop.draft(Kind.VALUE, "wet", item=LAMPS)
    first = shop.post(draft)
    shop.clock.advance(timedelta(minutes=5))
    again = shop.post(draft)
    assert (again.verdict, again.head, again.seq) == (first.verdict, first.head, first.seq)
    assert Entry.objects.filter(key=draft.key).count() == 1


def test_the_pin_is_no_part_of_what_makes_two_sendings_the_same(shop: Shop) -> None:
    draft = shop.draft(Kind.VALUE, "wet", item=LAMPS)
    other = shop.draft(Kind.VALUE, "wet", item=LAMPS, key=draft.key, pin="")
    assert shop.post(draft).seq == shop.post(other).seq


def test_a_key_used_for_other_content_is_a_conflict_and_changes_nothing(shop: Shop) -> None:
    draft = shop.draft(Kind.VALUE, "wet", item=LAMPS)
    shop.post(draft)
    count = Entry.objects.count()
    with pytest.raises(Conflict):
        shop.post(shop.draft(Kind.VALUE, "dry", item=LAMPS, key=draft.key))
    assert Entry.objects.count() == count


def test_a_refused_value_writes_a_verdict_and_no_entry(shop: Shop) -> None:
    draft = shop.draft(Kind.VALUE, True, item="module_swap.nothing")
    answer = shop.post(draft)
    assert answer.verdict == "refused"
    assert [point.code for point in answer.blockers] == ["unknown_item"]
    assert kinds(shop) == ["open"]
    assert shop.post(draft).blockers == answer.blockers


def test_a_refused_signature_is_recorded_with_codes_and_no_sentence(shop: Shop) -> None:
    answer = shop.send(Kind.SIGN, {"step": "intake", "outcome": "done"})
    assert answer.verdict == "refused"
    entry = shop.record().entries[-1]
    assert entry.kind is Kind.REFUSAL
    assert entry.value["act"] == "sign"
    codes = {point["code"] for point in entry.value["blockers"]}
    assert codes == {point.code for point in answer.blockers}
    assert all(
        set(point) == {"code", "item", "qualifier", "params"} for point in entry.value["blockers"]
    )


def test_signing_needs_the_pin_and_a_wrong_one_is_counted_not_stored(shop: Shop) -> None:
    value = {"step": "intake", "outcome": "done"}
    missing = shop.send(Kind.SIGN, value, pin="")
    wrong = shop.send(Kind.SIGN, value, pin="9999")
    assert (missing.verdict, missing.tries_left) == ("pin", None)
    assert (wrong.verdict, wrong.tries_left) == ("pin", 4)
    assert kinds(shop) == ["open"]
    assert not Verdict.objects.exists()


def test_five_wrong_pins_lock_the_person_even_for_the_right_one(shop: Shop) -> None:
    value = {"step": "intake", "outcome": "done"}
    answers = [shop.send(Kind.SIGN, value, pin="9999") for _ in range(5)]
    assert [bool(answer.locked_until) for answer in answers] == [False] * 4 + [True]
    assert shop.send(Kind.SIGN, value).verdict == "pin"
    shop.clock.advance(timedelta(minutes=2))
    assert shop.send(Kind.SIGN, value).verdict == "refused"


def test_an_entry_in_somebody_elses_name_needs_their_pin(shop: Shop) -> None:
    munk = shop.people["munk"]
    assert shop.enter(LAMPS, "x", person=munk, pin="").verdict == "pin"
    assert shop.enter(LAMPS, "x", person=munk).verdict == "applied"
    assert shop.record().entries[-1].person == munk


def test_words_about_a_person_stay_out_of_the_chain(shop: Shop) -> None:
    answer = shop.enter(COMPLAINT, "Red lamp, says Ms Rowan", by="lorne")
    assert answer.verdict == "applied"
    entry = Entry.objects.get(key=answer.key)
    datum = PersonalDatum.objects.get()
    assert entry.value == {"ref": str(datum.ref), "sha256": datum.sha256}
    assert b"Rowan" not in bytes(entry.canonical)
    assert datum.text == "Red lamp, says Ms Rowan"


def test_a_struck_value_stays_readable_and_makes_room(shop: Shop) -> None:
    first = shop.enter(COMPLAINT, "red lamp", by="lorne")
    assert shop.enter(COMPLAINT, "amber lamp", by="lorne").verdict == "refused"
    assert shop.send(Kind.STRIKE, {"key": first.key, "reason": " "}).verdict == "refused"
    assert shop.send(Kind.STRIKE, {"key": first.key, "reason": "amber"}).verdict == "applied"
    assert shop.enter(COMPLAINT, "amber lamp", by="lorne").verdict == "applied"
    assert shop.record().gone == {first.key: "amber"}
    assert len(shop.record().live[COMPLAINT]) == 1


@pytest.mark.parametrize("kind", [Kind.OPEN, Kind.REFUSAL, Kind.WITHDRAW])
def test_what_only_the_server_writes_is_not_taken(shop: Shop, kind: Kind) -> None:
    answer = shop.send(kind, {"id": "x", "reason": "y"})
    assert [point.code for point in answer.blockers] == ["kind_not_sent"]


def test_an_unknown_job_is_refused(shop: Shop) -> None:
    job = "00000000-0000-4000-8000-000000000000"
    answer = shop.post(shop.draft(Kind.VALUE, "x", item=LAMPS, job=job))
    assert [point.code for point in answer.blockers] == ["no_such_job"]


@pytest.mark.parametrize(
    ("kind", "value", "code"),
    [
        (Kind.HOLD, {"step": "fault_localisation", "hold": "lid_off"}, "earlier_step_open"),
        (Kind.HOLD, {"step": "nowhere", "hold": "x"}, "no_such_hold"),
        (Kind.PROOF, {"round": "1"}, "earlier_step_open"),
        (Kind.PROOF, "nonsense", "unknown_item"),
        (Kind.PROOF_END, {"cause": "keys_moved"}, "no_proof_to_end"),
        (Kind.REOPEN, {"step": "intake", "reason": "x"}, "not_signed_yet"),
        (Kind.COUNTERSIGN, {"digest": "x", "reason": "y"}, "countersign_manager"),
        (Kind.REVISION, {"revision": "x"}, "no_such_revision"),
        (Kind.CLOSE, {"received_by": "x"}, "step_not_signed"),
        (Kind.STRIKE, {"key": "x", "reason": "y"}, "nothing_to_strike"),
        (Kind.SIGN, {"step": []}, "unknown_item"),
    ],
)
def test_each_act_is_refused_where_it_does_not_stand(
    shop: Shop, kind: Kind, value: object, code: str
) -> None:
    answer = shop.send(kind, value)
    assert answer.verdict == "refused"
    assert code in [point.code for point in answer.blockers]


def test_only_a_qualified_manager_countersigns_and_only_what_is_offered(shop: Shop) -> None:
    answer = shop.send(Kind.COUNTERSIGN, {"digest": "x", "reason": "y"}, by="thorne")
    assert [point.code for point in answer.blockers] == ["countersign_not_offered"]
