"""A tablet at which somebody of a role is signed on, and what its pages say."""

from datetime import UTC, datetime

from django.http import HttpResponse, HttpResponseBase
from django.test import Client

from workshop import queries
from workshop.models import Person

MORNING = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def at_the_tablet(role: str) -> Client:
    """Return the client of somebody who is signed on."""
    person = Person.objects.create(
        display_name=role,
        short_name=role,
        role=role,
        pin_hash="x",
        created_at=MORNING,
    )
    client = Client()
    session = client.session
    session["person"] = str(person.id)
    session["mark"] = queries.session_mark(str(person.id))
    session["seen_s"] = MORNING.timestamp()
    session.save()
    return client


def words(response: HttpResponseBase) -> str:
    """Return the text of a page with its spaces made single."""
    assert isinstance(response, HttpResponse)
    return " ".join(response.content.decode().split())
