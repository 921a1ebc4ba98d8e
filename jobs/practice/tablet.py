"""A tablet of the workshop: one person signs on, entries go through the same door as any tablet's.

`Tablet` makes requests in this very process, but by address, with a session and as JSON; `Straight`
hands the same entry to the door behind the address. What the door refuses, it refuses to both.
"""

import json
from dataclasses import dataclass, field
from datetime import UTC
from typing import Any, Protocol

from django.test.client import Client
from django.urls import reverse
from typing_extensions import override

from jobs.actions import door
from jobs.core.draft import Draft
from jobs.core.entry import Kind
from jobs.core.reason import Blocker, say
from workshop import clock, queries
from workshop.people import PersonInfo

__all__ = ["Hand", "Refusal", "Reply", "Straight", "Tablet"]

_HOST = "127.0.0.1"
_TAKEN, _GONE = 200, 401


@dataclass(frozen=True, slots=True)
class Refusal:
    """One point of an answer: code, what it points at, and the sentence as shown."""

    code: str
    item: str
    qualifier: str
    text: str


@dataclass(frozen=True, slots=True)
class Reply:
    """What the door answered."""

    status: int
    verdict: str
    reasons: tuple[Refusal, ...] = ()
    seq: int = 0
    head: str = ""
    tries_left: int | None = None

    @property
    def codes(self) -> frozenset[str]:
        """The codes of all points."""
        return frozenset(reason.code for reason in self.reasons)


def _reply(status: int, answer: dict[str, Any]) -> Reply:
    return Reply(
        status,
        answer["verdict"],
        tuple(
            Refusal(point["code"], point["item"], point["qualifier"], point["text"])
            for point in answer.get("reasons", ())
        ),
        answer.get("seq", 0),
        answer.get("head", ""),
        answer.get("tries_left"),
    )


class Hand(Protocol):
    """Whatever one person sends entries with."""

    def post(self, entry: dict[str, Any]) -> Reply:
        """Send one entry."""


@dataclass
class Tablet(Hand):
    """A tablet at which one person is signed on; after idling the PIN is typed again."""

    person: str
    pin: str = field(repr=False)
    client: Client = field(default_factory=lambda: Client(SERVER_NAME=_HOST))
    sign_ons: int = 0

    def sign_on(self) -> None:
        """Sign on with the PIN.

        Raises
        ------
        RuntimeError
            Where the sign-on page does not let the person in.
        """
        address = reverse("shop:sign_on_person", args=(self.person,))
        answer = self.client.post(address, {"pin": self.pin, "next": "/jobs/"})
        if not 300 <= answer.status_code < 400:  # noqa: PLR2004 - a redirect is what lets in
            raise RuntimeError(f"Signing on was answered with {answer.status_code}.")
        self.sign_ons += 1

    def send(self, body: object) -> tuple[int, list[dict[str, Any]]]:
        """Send a body to the door as it is; give the status and the answers."""
        sent = body if isinstance(body, str) else json.dumps(body)
        answer = self.client.post(
            reverse("jobs:entries"), data=sent, content_type="application/json"
        )
        return answer.status_code, answer.json()["answers"]

    @override
    def post(self, entry: dict[str, Any]) -> Reply:
        """Send one entry; sign on first where nobody is, and send the same entry again."""
        status, answers = self.send(entry)
        if status == _GONE:
            self.sign_on()
            status, answers = self.send(entry)
        return _reply(status, answers[0])


def _refusal(point: Blocker) -> Refusal:
    text = say(point.text, point.params, names={}, zone=UTC)
    return Refusal(point.code, point.item, point.qualifier, text)


@dataclass
class Straight(Hand):
    """A hand behind the address: the same door without session and request, for many jobs."""

    person: str
    pin: str = field(repr=False)
    signed_on: PersonInfo | None = None

    @override
    def post(self, entry: dict[str, Any]) -> Reply:
        """Send one entry as whoever is signed on."""
        self.signed_on = self.signed_on or queries.person(self.person)
        draft = Draft(**{**entry, "kind": Kind(entry["kind"])})
        answer = door.post(draft, signed_on=self.signed_on, now=clock.now())
        reasons = tuple(_refusal(point) for point in answer.blockers)
        return Reply(_TAKEN, answer.verdict, reasons, answer.seq, answer.head, answer.tries_left)
