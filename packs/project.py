"""What the views of this app need from the project around it, named by string.

The clock, the question "who is at this tablet", people's names and the jobs belong to other
apps, which this one may not import: as with addresses and settings, a name in a string is the
only thread upwards.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, cast
from uuid import UUID

from django.http import HttpRequest, HttpResponseBase
from django.utils import timezone
from django.utils.module_loading import import_string

CLOCK: Final = "workshop.clock.now"
"""Dotted path of the function that says what time it is."""

SIGNED_ON: Final = "workshop.sign_on.signed_on"
"""Dotted path of the decorator that asks who is there."""

NAMES: Final = "workshop.queries.names"
"""Dotted path of the function that gives people's names by their keys."""

JOBS_BY_NUMBER: Final = "jobs.queries.pack_jobs.jobs_by_number"
"""Dotted path of the function that finds jobs by their numbers."""

JOBS_OF_PACKS: Final = "jobs.queries.pack_jobs.jobs_of_packs"
"""Dotted path of the function that gives the jobs a pack was in."""

REMOVED_MODULES: Final = "jobs.queries.pack_jobs.removed_modules"
"""Dotted path of the function that gives the modules that jobs took out."""

LEAKS_OF_PACK: Final = "jobs.queries.pack_jobs.leaks_of_pack"
"""Dotted path of the function that gives what leaked in earlier jobs of a kind of pack."""

WATCH_ON: Final = "jobs.queries.pack_jobs.watch_on"
"""Dotted path of the function that says how the watch on a removed module stands."""

MANAGER: Final = "manager"
TECHNICIAN: Final = "technician"

View = Callable[..., HttpResponseBase]


@dataclass(frozen=True, slots=True)
class JobRef:
    """A job as this app shows it: its number, where its page is, and what it is about."""

    number: str
    address: str
    title: str
    opened_at: datetime
    closed_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovedModule:
    """A module that a job took out of a pack, as its record describes it."""

    job: JobRef
    module: str
    serial: str
    part: str
    chemistry: str
    cells: int
    place: str
    condition: str
    taken_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PackLeaks:
    """What leaked in the jobs of one kind of pack: names with the jobs, the most frequent first.

    ``in_pack`` are jobs in which something in the pack leaked that is no module.
    """

    looked_at: tuple[JobRef, ...]
    modules: tuple[tuple[str, tuple[JobRef, ...]], ...]
    parts: tuple[tuple[str, tuple[JobRef, ...]], ...]
    in_pack: tuple[JobRef, ...]


def local_now() -> datetime:
    """Return the time in the workshop's zone, so that its date is the one people go by."""
    now = cast("Callable[[], datetime]", import_string(CLOCK))
    return timezone.localtime(now())


def signed_on(*roles: str) -> Callable[[View], View]:
    """Let a page be seen only by somebody signed on, with one of the roles if any are named."""
    decorator = cast("Callable[..., Callable[[View], View]]", import_string(SIGNED_ON))
    return decorator(*roles)


def person_id(request: HttpRequest) -> UUID:
    """Return the key of the person who is signed on."""
    person: Any = getattr(request, "person", None)
    return UUID(str(person.id))


def is_role(request: HttpRequest, *roles: str) -> bool:
    """Say whether the person signed on has one of the roles."""
    person: Any = getattr(request, "person", None)
    return person is not None and person.role in roles


def names(ids: Iterable[UUID | None]) -> Mapping[str, str]:
    """Return the names of people by their keys as text; unknown keys are left out."""
    ask = cast("Callable[[Iterable[UUID]], Mapping[str, str]]", import_string(NAMES))
    return ask({each for each in ids if each is not None})


def jobs_by_number(numbers: Iterable[str]) -> Mapping[str, JobRef]:
    """Return jobs by their numbers; unknown numbers are left out."""
    ask = cast("Callable[[Iterable[str]], Mapping[str, JobRef]]", import_string(JOBS_BY_NUMBER))
    return ask({number for number in numbers if number})


def jobs_of_packs(ids: Iterable[UUID]) -> Mapping[UUID, tuple[JobRef, ...]]:
    """Return the jobs that each pack was in, newest first; packs without one are left out."""
    ask = cast(
        "Callable[[Iterable[UUID]], Mapping[UUID, tuple[JobRef, ...]]]",
        import_string(JOBS_OF_PACKS),
    )
    return ask(tuple(ids))


def removed_modules(job: str = "") -> tuple[RemovedModule, ...]:
    """Return the modules that jobs took out, newest first; of one job where its number is given."""
    ask = cast("Callable[[str], tuple[RemovedModule, ...]]", import_string(REMOVED_MODULES))
    return ask(job)


def leaks_of_pack(slug: str) -> PackLeaks:
    """Return what leaked in the jobs of a kind of pack, all its revisions together."""
    ask = cast("Callable[[str], PackLeaks]", import_string(LEAKS_OF_PACK))
    return ask(slug)


def watch_on(serial: str) -> str:
    """Say of a removed module whether its watch is "running" or "over"; empty for any other."""
    ask = cast("Callable[[str], str]", import_string(WATCH_ON))
    return ask(serial)
