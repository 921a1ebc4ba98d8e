"""What is known of the tablets that send entries: when heard, how many made, what will not come.

A tablet numbers its entries. A number that neither arrived nor was dropped is an entry that still
lies on the tablet, or was lost with it; `jobs.queries.tablets` tells of those.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

from jobs.models import DroppedEntry, Tablet, Verdict
from workshop.writing import one_writer

__all__ = ["Heard", "hear", "name_tablet"]

NAME_LETTERS: Final = 40
NOTED_EVERY: Final = timedelta(minutes=1)
"""How often a tablet that lacks nothing is noted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What a tablet says of itself with each sending.

    Attributes
    ----------
    device : str
        Its identifier.
    made : int
        The highest running number it has given.
    dropped : tuple[int, ...]
        Running numbers whose entries were taken out of its queue.
    """

    device: str
    made: int
    dropped: tuple[int, ...] = ()


def _arrived(device: str, above: int) -> set[int]:
    """Give the running numbers above one that were answered for good, or dropped."""
    answered = Verdict.objects.filter(device=device, device_seq__gt=above)
    dropped = DroppedEntry.objects.filter(tablet_id=device, device_seq__gt=above)
    return {
        *answered.values_list("device_seq", flat=True),
        *dropped.values_list("device_seq", flat=True),
    }


def _whole_up_to(row: Tablet) -> int:
    """Count on from what is known to be whole for as long as no number is missing."""
    there, whole = _arrived(row.device, row.whole_up_to), row.whole_up_to
    while whole + 1 in there:
        whole += 1
    return whole


def _is_calm(row: Tablet, heard: Heard, now: datetime) -> bool:
    """Say that nothing is missing and nothing has to be noted yet: most sendings write nothing."""
    lately = now - row.last_at < NOTED_EVERY
    return lately and row.missing_since is None and _whole_up_to(row) >= heard.made


def hear(heard: Heard, *, person: str, now: datetime) -> None:
    """Note what a tablet says of itself, after what it sent was answered.

    Parameters
    ----------
    heard : Heard
        What it says.
    person : str
        Who is signed on there; empty for nobody.
    now : datetime
        The server's time (UTC).
    """
    row = Tablet.objects.filter(pk=heard.device).first()
    if row is not None and not heard.dropped and _is_calm(row, heard, now):
        return
    with one_writer():
        row, _ = Tablet.objects.get_or_create(
            pk=heard.device, defaults={"first_at": now, "last_at": now}
        )
        DroppedEntry.objects.bulk_create(
            [DroppedEntry(tablet=row, device_seq=number, at=now) for number in heard.dropped],
            ignore_conflicts=True,
        )
        row.made = max(row.made, heard.made)
        row.whole_up_to = _whole_up_to(row)
        row.last_at = now
        row.last_person = UUID(person) if person else row.last_person
        behind = row.whole_up_to < row.made
        row.missing_since = (row.missing_since or now) if behind else None
        row.save()


def name_tablet(device: str, name: str, *, now: datetime) -> None:
    """Give a tablet a name."""
    with one_writer():
        row, _ = Tablet.objects.get_or_create(pk=device, defaults={"first_at": now, "last_at": now})
        row.name = " ".join(name.split())[:NAME_LETTERS]
        row.save(update_fields=("name",))
