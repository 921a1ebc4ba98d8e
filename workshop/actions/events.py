"""Writing down what was done to a row of a register; nothing here is ever changed afterwards."""

from collections.abc import Mapping
from typing import Any

from django.db.models import Max

from workshop import clock
from workshop.models import Certificate, Person, RegisterEvent
from workshop.queries import Id, uuid_of


def write_event(
    subject: Id,
    kind: str,
    *,
    by: Person | None,
    values: Mapping[str, Any] | None = None,
    file: Certificate | None = None,
) -> None:
    """Add an event after the last one of its subject; called inside ``one_writer``."""
    rows = RegisterEvent.objects.filter(subject=uuid_of(subject))
    last = rows.aggregate(last=Max("number"))["last"] or 0
    RegisterEvent.objects.create(
        subject=uuid_of(subject),
        number=last + 1,
        kind=kind,
        values=dict(values or {}),
        file=file,
        at=clock.now(),
        by=by,
    )


def changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, list[Any]]:
    """Give what differs: name to the value before and the value after."""
    names = [*after, *(name for name in before if name not in after)]
    return {
        name: [before.get(name), after.get(name)]
        for name in names
        if before.get(name) != after.get(name)
    }
