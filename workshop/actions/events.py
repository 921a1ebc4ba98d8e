"""Writing down what was done to a row of a register.

Nothing here is changed afterwards; names and papers of a person are erased on request.
"""

from collections.abc import Mapping
from typing import Any, Final

from django.db.models import Max

from workshop import clock
from workshop.models import Certificate, Person, RegisterEvent, Shop
from workshop.queries import Id, uuid_of

KEPT_OF_A_PERSON: Final = ("code", "expires_on")
"""What stays of the events of a person whose data are erased: which qualification, until when."""


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


def blank_events(person: Id) -> tuple[str, ...]:
    """Take names and papers out of what was done to a person's row.

    Returns
    -------
    tuple of str
        Digests of files that no register needs any more; their rows are gone.
    """
    rows = RegisterEvent.objects.filter(subject=uuid_of(person))
    files = set(rows.exclude(file=None).values_list("file_id", flat=True))
    for row in rows:
        kept = {name: row.values[name] for name in KEPT_OF_A_PERSON if name in row.values}
        RegisterEvent.objects.filter(pk=row.pk).update(values=kept, file=None)
    needed = RegisterEvent.objects.filter(file__in=files).values("file_id")
    loose = Certificate.objects.filter(pk__in=files).exclude(pk__in=needed)
    loose = loose.exclude(pk__in=Shop.objects.exclude(logo=None).values("logo_id"))
    digests = tuple(loose.values_list("sha256", flat=True))
    loose.delete()
    return digests
