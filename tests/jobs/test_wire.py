"""What waited on a tablet: tickets, sealed PINs, running numbers, and who was first."""

import base64
import hashlib
import json
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import padding, rsa
from django.conf import settings as django_settings
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.core.entry import Kind
from jobs.core.seal import canonical
from jobs.models import Entry, Tablet, Verdict
from jobs.queries.tablets import held_back
from tests.jobs.conftest import PIN, Shop
from workshop import queries, seal_keys
from workshop.actions import set_pin
from workshop.models import Person
from workshop.seal_keys import public_seal
from workshop.tickets import LASTS, ticket_for

ClientOf = Callable[[str], Client]
OAEP = padding.OAEP(padding.MGF1(hashes.SHA256()), hashes.SHA256(), None)
ODOMETER = "intake.odometer_km"


@dataclass
class Hand:
    """A tablet's script in Python: makes entries, seals PINs, sends batches."""

    shop: Shop
    client: Client
    device: str = field(default_factory=lambda: str(uuid.uuid4()))
    made: int = 0

    def entry(self, item: str = "intake.note", value: Any = "wet", **more: Any) -> dict[str, Any]:
        self.made += 1
        base: dict[str, Any] = {"key": str(uuid.uuid4()), "job": self.shop.job, "kind": "value"}
        base |= {"item": item, "qualifier": "", "value": value}
        base["person"] = self.shop.people["aster"]
        base["device"] = self.device
        made = {"device_seq": self.made, "clock_offset_s": 3}
        return {**base, **made, "tablet_time": "2026-03-02T08:00:03+00:00", **more}

    def signing(self, pin: str = PIN, **more: Any) -> dict[str, Any]:
        entry = self.entry("", {"step": "seal_test", "outcome": "done"}, kind="sign", **more)
        return {**entry, "sealed": sealed(entry, pin)}

    def send(self, *entries: dict[str, Any], **more: Any) -> dict[str, Any]:
        body = {"format": 2, "device": self.device, "made": self.made, "entries": entries, **more}
        answer = self.client.post("/entries/", json.dumps(body), content_type="application/json")
        said: dict[str, Any] = answer.json()
        return said

    def verdicts(self, *entries: dict[str, Any]) -> list[str]:
        return [each["verdict"] for each in self.send(*entries)["answers"]]


def content_hash(entry: dict[str, Any]) -> str:
    names = ("job", "kind", "item", "qualifier", "value", "person", "device", "device_seq")
    content = {name: entry[name] for name in (*names, "tablet_time", "clock_offset_s")}
    return hashlib.sha256(canonical(content)).hexdigest()


def sealed(entry: dict[str, Any], pin: str, **held: str) -> dict[str, str]:
    """Seal a PIN as the page's script does; `held` says something else than is true."""
    key = serialization.load_der_public_key(base64.b64decode(public_seal().spki))
    assert isinstance(key, rsa.RSAPublicKey)
    said = {"pin": pin, "key": entry["key"], "hash": content_hash(entry), **held}
    box = key.encrypt(json.dumps(said).encode(), OAEP)
    return {"key_id": public_seal().id, "box": base64.b64encode(box).decode()}


def tries(shop: Shop, name: str = "aster") -> int:
    return Person.objects.values_list("pin_failures", flat=True).get(pk=shop.people[name])


def ticket(shop: Shop, name: str = "aster") -> str:
    person = shop.people[name]
    return ticket_for(person, queries.session_mark(person), shop.clock.now())


@pytest.fixture
def hand(shop: Shop, client_of: ClientOf) -> Hand:
    return Hand(shop, client_of("aster"))


def test_each_answer_says_which_server_it_is_and_when(hand: Hand) -> None:
    said = hand.send(hand.entry())
    assert said["answers"][0]["verdict"] == "applied"
    assert said["now"] == hand.shop.clock.now().isoformat()
    assert {"epoch", "release"} <= set(said)
    written = json.loads(bytes(Entry.objects.get(seq=2).canonical))
    assert (written["clock_offset_s"], written["device"]) == (3, hand.device)


@pytest.mark.parametrize(
    "change",
    [
        {"format": 3},
        {"device": "bay 2"},
        {"made": -1},
        {"made": True},
        {"dropped": 5},
        {"dropped": [{"seq": 0}]},
        {"dropped": ["1"]},
        {"entries": None},
    ],
)
def test_what_a_tablet_may_not_say_of_itself_is_refused(hand: Hand, change: dict[str, Any]) -> None:
    said = hand.send(hand.entry(), **change)
    assert said["answers"][0]["reasons"][0]["code"] == "malformed"
    assert Entry.objects.count() == 1


def test_a_tablet_may_only_say_how_it_stands(hand: Hand) -> None:
    assert hand.send()["answers"] == []
    assert Tablet.objects.get().made == 0


# ---------------------------------------------------------------- tickets


def test_an_entry_with_a_ticket_is_its_persons_whoever_is_signed_on(
    shop: Shop, client_of: ClientOf
) -> None:
    hand = Hand(shop, client_of("munk"))
    assert hand.verdicts(hand.entry()) == ["pin"]
    assert hand.verdicts(hand.entry(ticket=ticket(shop))) == ["applied"]
    assert str(Entry.objects.get(seq=2).person) == shop.people["aster"]


def test_a_ticket_counts_where_nobody_is_signed_on_any_more(shop: Shop) -> None:
    hand = Hand(shop, Client())
    assert hand.verdicts(hand.entry()) == ["auth"]
    assert hand.verdicts(hand.entry(ticket=ticket(shop))) == ["applied"]


def test_a_ticket_opens_nothing_that_needs_a_pin(hand: Hand) -> None:
    entry = hand.entry("", {"step": "intake", "outcome": "done"}, kind="sign")
    assert hand.verdicts({**entry, "ticket": ticket(hand.shop)}) == ["pin"]


def test_a_ticket_of_somebody_else_does_not_speak_for_the_person_named(
    shop: Shop, client_of: ClientOf
) -> None:
    hand = Hand(shop, client_of("munk"))
    assert hand.verdicts(hand.entry(ticket=ticket(shop, "lorne"))) == ["pin"]


@pytest.mark.parametrize("spoilt", ["old", "pin", "left", "forged", "early"])
def test_a_ticket_ends(shop: Shop, spoilt: str) -> None:
    hand, kept = Hand(shop, Client()), ticket(shop)
    if spoilt == "old":
        shop.clock.advance(LASTS + timedelta(seconds=1))
    elif spoilt == "early":
        shop.clock.advance(timedelta(hours=-1))
    elif spoilt == "pin":
        set_pin(person_id=shop.people["aster"], pin="9182", by=shop.people["thorne"])
    elif spoilt == "left":
        Person.objects.filter(pk=shop.people["aster"]).update(active=False)
    else:
        kept = kept[:-2] + ("AA" if kept[-2:] != "AA" else "BB")
    assert hand.verdicts(hand.entry(ticket=kept)) == ["auth"]
    assert Entry.objects.count() == 1


# ---------------------------------------------------------------- sealed PINs


def test_a_sealed_pin_signs(hand: Hand) -> None:
    [answer] = hand.send(hand.signing())["answers"]
    # The seal test cannot be signed yet; the PIN was right, so it is refused and not asked for.
    assert answer["verdict"] == "refused"
    assert tries(hand.shop) == 0


def test_a_wrong_sealed_pin_counts_once_however_often_it_is_sent(hand: Hand) -> None:
    entry = hand.signing("1111")
    assert [hand.verdicts(entry) for _ in range(4)] == [["pin"]] * 4
    assert tries(hand.shop) == 1
    assert hand.verdicts({**entry, "sealed": sealed(entry, "2222")}) == ["pin"]
    assert tries(hand.shop) == 2
    assert hand.verdicts({**entry, "sealed": sealed(entry, PIN)}) == ["refused"]


def test_a_seal_opens_the_entry_it_was_made_for_and_no_other(hand: Hand) -> None:
    first, second = hand.signing(), hand.signing()
    assert hand.verdicts({**second, "sealed": first["sealed"]}) == ["pin"]
    assert hand.verdicts({**first, "value": {"step": "intake", "outcome": "done"}}) == ["pin"]
    for held in ({"key": first["key"]}, {"hash": content_hash(first)}):
        assert hand.verdicts({**second, "sealed": sealed(second, PIN, **held)}) == ["pin"]
    assert tries(hand.shop) == 0


def test_a_signature_sealed_to_the_former_key_is_taken_for_a_while(
    hand: Hand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(django_settings, "COLDBUS_DATA", tmp_path)
    clock, waiting, late = hand.shop.clock, hand.signing(), hand.signing()
    seal_keys.attend(clock.now())
    clock.advance(seal_keys.IN_USE_FOR)
    assert seal_keys.attend(clock.now())
    hand.client = Client()
    sign = {"ticket": ticket(hand.shop)}
    assert hand.verdicts({**waiting, **sign}) == ["refused"]
    clock.advance(seal_keys.OPENED_FOR)
    assert hand.verdicts({**late, "ticket": ticket(hand.shop)}) == ["pin"]
    assert tries(hand.shop) == 0


@pytest.mark.parametrize(
    "box",
    [
        None,
        5,
        {},
        {"key_id": "other", "box": "AAAA"},
        {"key_id": public_seal().id, "box": "no base64!"},
        {"key_id": public_seal().id, "box": "AAAA"},
        {"key_id": 1, "box": 2},
    ],
)
def test_what_is_no_seal_asks_for_the_pin(hand: Hand, box: object) -> None:
    assert hand.verdicts({**hand.signing(), "sealed": box}) == ["pin"]


def test_no_pin_is_kept_anywhere(hand: Hand) -> None:
    hand.send(hand.signing())
    kept = [bytes(row.canonical) for row in Entry.objects.all()]
    kept += [json.dumps(row.answer).encode() for row in Verdict.objects.all()]
    assert len(kept) > 1
    assert not any(PIN.encode() in each for each in kept)


# ---------------------------------------------------------------- running numbers


def test_a_gap_is_told_after_a_while_and_closed_by_what_arrives(hand: Hand) -> None:
    shop, late = hand.shop, hand.entry(ticket=ticket(hand.shop))
    hand.send(hand.entry(), hand.entry())
    assert held_back(shop.clock.now()) == ()
    shop.clock.advance(timedelta(minutes=6))
    [told] = held_back(shop.clock.now())
    assert (told.made, told.arrived) == (3, 2)
    hand.send(late)
    assert held_back(shop.clock.now()) == ()


def test_what_was_dropped_is_no_gap(hand: Hand) -> None:
    dropped = hand.entry()
    hand.send(hand.entry(), dropped=[{"seq": dropped["device_seq"], "key": dropped["key"]}])
    hand.shop.clock.advance(timedelta(minutes=6))
    hand.send()
    assert held_back(hand.shop.clock.now()) == ()


def test_today_tells_of_a_tablet_that_holds_entries(hand: Hand) -> None:
    hand.entry()
    hand.send(hand.entry())
    hand.client.post("/tablet/", {"device": hand.device, "name": "  bay   2 "})
    hand.shop.clock.advance(timedelta(minutes=4))
    hand.client.get("/")
    hand.shop.clock.advance(timedelta(minutes=2))
    page = hand.client.get("/").content.decode()
    assert "Tablet bay 2" in page
    assert "2 entries made, 1 arrived" in page


def test_the_state_gives_the_pages_of_open_jobs_to_who_is_signed_on(hand: Hand) -> None:
    asked = f"/tablet/state/?jobs={hand.shop.job},{uuid.uuid4()},nonsense"
    found = hand.client.get(asked, headers={"X-By-Itself": "1"}).json()
    assert set(found["pages"]) == {hand.shop.job}
    assert len(found["pages"][hand.shop.job]) == 8
    nobody = Client().get(asked).json()
    assert (nobody["person"], nobody["pages"]) == (None, {})


# ---------------------------------------------------------------- two tablets


def head_of(shop: Shop) -> str:
    return (
        Entry.objects.filter(job_id=uuid.UUID(shop.job))
        .order_by("-seq")
        .values_list("hash", flat=True)[0]
    )


def test_the_second_tablet_is_told_who_was_first(shop: Shop, client_of: ClientOf) -> None:
    one, other, seen = Hand(shop, client_of("lorne")), Hand(shop, client_of("lorne")), head_of(shop)
    mine = {"person": shop.people["lorne"], "seen_head": seen}
    assert one.verdicts(one.entry(ODOMETER, "64000", **mine)) == ["applied"]
    late = other.entry(ODOMETER, "65000", **mine)
    [answer] = other.send(late)["answers"]
    [reason] = answer["reasons"]
    assert (answer["verdict"], reason["code"]) == ("refused", "recorded_elsewhere")
    assert reason["params"]["value"] == "64000 km"
    assert "Lorne Example recorded this" in reason["text"]
    strike = other.entry("", {"key": reason["params"]["key"], "reason": "misread"}, kind="strike")
    instead = other.entry(ODOMETER, "65000", person=shop.people["lorne"], seen_head=answer["head"])
    strike["person"] = shop.people["lorne"]
    assert other.verdicts(strike, instead) == ["applied", "applied"]
    assert [given["typed"] for given in values_in_force(shop)] == ["65000"]


def values_in_force(shop: Shop) -> list[Any]:
    return [entry.value for entry in shop.record().live.get(ODOMETER, ())]


def test_ones_own_earlier_value_and_a_seen_one_are_no_surprise(
    shop: Shop, client_of: ClientOf
) -> None:
    one, other, seen = Hand(shop, client_of("lorne")), Hand(shop, client_of("lorne")), head_of(shop)
    mine = {"person": shop.people["lorne"]}
    first = one.entry(ODOMETER, "64000", seen_head=seen, **mine)
    second = one.entry(ODOMETER, "64001", seen_head=seen, **mine)
    codes = [each["reasons"] for each in one.send(first, second)["answers"]]
    assert "recorded_elsewhere" not in json.dumps(codes)
    said = other.send(other.entry(ODOMETER, "65000", seen_head=head_of(shop), **mine))
    assert "recorded_elsewhere" not in json.dumps(said)


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(order=st.lists(st.sampled_from([0, 1, 2]), min_size=2, max_size=7))
def test_no_value_is_replaced_unseen_in_whatever_order_tablets_send(
    shop: Shop, client_of: ClientOf, order: list[int]
) -> None:
    client, seen = client_of("lorne"), head_of(shop)
    for standing in shop.record().live.get(ODOMETER, ()):
        shop.send(Kind.STRIKE, {"key": standing.key, "reason": "again"}, by="lorne")
        seen = head_of(shop)
    hands = [Hand(shop, client) for _ in range(3)]
    verdicts = []
    for place, number in enumerate(order):
        mine = {"person": shop.people["lorne"], "seen_head": seen}
        entry = hands[number].entry(ODOMETER, str(64000 + place), **mine)
        verdicts += hands[number].verdicts(entry)
    assert verdicts == ["applied", *["refused"] * (len(order) - 1)]
    assert [given["typed"] for given in values_in_force(shop)] == ["64000"]


def test_reading_twice_from_the_wire_gives_the_stored_verdict(hand: Hand) -> None:
    entry = hand.entry()
    once, again = hand.send(entry)["answers"], hand.send(entry)["answers"]
    assert once == again
    assert Entry.objects.count() == 2


def test_the_tablets_own_time_opens_nothing(hand: Hand) -> None:
    early = hand.entry(tablet_time="2019-01-01T00:00:00+00:00")
    hand.send(early)
    entry = Entry.objects.get(seq=2)
    assert entry.at == hand.shop.clock.now().astimezone(UTC)


def test_a_copy_of_a_page_is_asked_for_cheaply(hand: Hand) -> None:
    address, asked = f"/jobs/{hand.shop.job}/intake/", {"X-Keep": "1", "X-By-Itself": "1"}
    first = hand.client.get(address, headers=asked)
    tag = {"If-None-Match": first.headers["ETag"]}
    assert hand.client.get(address, headers=asked | tag).status_code == 304
    # Who looks at the page always gets it whole.
    assert hand.client.get(address, headers=tag).status_code == 200
    hand.send(hand.entry())
    changed = hand.client.get(address, headers=asked | tag)
    assert (changed.status_code, changed.headers["ETag"] == tag["If-None-Match"]) == (200, False)
    # It keeps nobody signed on, and never gives the sign-on page for a copy.
    hand.shop.clock.advance(timedelta(minutes=11))
    assert hand.client.get(address, headers=asked).status_code == 204


def test_a_copy_is_somebodys_own_and_ends_in_time(shop: Shop, client_of: ClientOf) -> None:
    address = f"/jobs/{shop.job}/intake/"
    first = client_of("aster").get(address, headers={"X-Keep": "1"})
    tag = {"X-Keep": "1", "If-None-Match": first.headers["ETag"]}
    assert client_of("munk").get(address, headers=tag).status_code == 200
    shop.clock.advance(timedelta(minutes=11))
    assert client_of("aster").get(address, headers=tag).status_code == 200
