"""A tablet of the workshop: one person signs on, entries go through the same door as any tablet's.

Requests are made in this very process, but by address, with a session and as JSON: whatever the
door refuses to a tablet it refuses here.
"""

import json
from dataclasses import dataclass, field
from typing import Any

from django.test.client import Client
from django.urls import reverse

__all__ = ["Refusal", "Reply", "Tablet"]

_HOST = "127.0.0.1"
_GONE = 401


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


@dataclass
class Tablet:
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

    def sign_off(self) -> None:
        """Leave the tablet."""
        self.client.post(reverse("shop:sign_off"))

    def send(self, body: object) -> tuple[int, list[dict[str, Any]]]:
        """Send a body to the door as it is; give the status and the answers."""
        sent = body if isinstance(body, str) else json.dumps(body)
        answer = self.client.post(
            reverse("jobs:entries"), data=sent, content_type="application/json"
        )
        return answer.status_code, answer.json()["answers"]

    def post(self, entry: dict[str, Any]) -> Reply:
        """Send one entry; sign on first where nobody is, and send the same entry again."""
        status, answers = self.send(entry)
        if status == _GONE:
            self.sign_on()
            status, answers = self.send(entry)
        return _reply(status, answers[0])
