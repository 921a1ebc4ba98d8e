"""Which modules, and which parts of the vehicle, earlier jobs of one kind of pack found leaking.

Read from what signatures sealed; nothing is folded. A job counts once its fault localisation is
signed and stands; a module only where a second kind of reading confirmed it. Never practice.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final
from uuid import UUID

from django.db.models.fields.json import KT

from jobs.core.entry import Kind
from jobs.models import Entry
from jobs.steps.fault_localisation.items import SLUG as LOCALISE
from jobs.steps.isolation_readings.items import SLUG as ISOLATE

__all__ = ["LeaksFound", "leaks_of"]

_RESULT: Final = "value__seal__result__"
_TOLD: Final = (
    "job_id",
    "seq",
    "kind",
    "value__step",
    "value__supersedes",
    f"{_RESULT}outcome",
    f"{_RESULT}leaking",
    f"{_RESULT}confirmed_by",
    f"{_RESULT}vehicle__leaking",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaksFound:
    """What the jobs of one kind of pack found.

    Attributes
    ----------
    looked_at : tuple[UUID, ...]
        Jobs whose fault localisation is signed.
    modules, parts : Mapping[str, tuple[UUID, ...]]
        Jobs by the module of the pack, or part of the vehicle, that leaked there.
    in_pack : tuple[UUID, ...]
        Jobs in which something in the pack leaked that is no module.
    """

    looked_at: tuple[UUID, ...] = ()
    modules: Mapping[str, tuple[UUID, ...]]
    parts: Mapping[str, tuple[UUID, ...]]
    in_pack: tuple[UUID, ...] = ()


def _jobs_of(slug: str, but: UUID | None) -> list[UUID]:
    """Give the real jobs in which a revision of this pack was in force at last."""
    rows = Entry.objects.filter(kind=str(Kind.REVISION), job__practice=False)
    last = dict(rows.order_by("job_id", "seq").values_list("job_id", KT("value__slug")))
    return [job for job, known in last.items() if known == slug and job != but]


def _standing(rows: Iterable[Mapping[str, Any]]) -> dict[tuple[UUID, str], Mapping[str, Any]]:
    """Give the signatures that no re-opening has superseded, by job and step."""
    found: dict[tuple[UUID, str], Mapping[str, Any]] = {}
    for row in rows:
        if row["kind"] == Kind.SIGN:
            found[row["job_id"], row["value__step"]] = row
            continue
        for step in row["value__supersedes"] or ():
            found.pop((row["job_id"], step), None)
    return found


def leaks_of(slug: str, but: UUID | None = None) -> LeaksFound:
    """Give what earlier jobs of a kind of pack found, all its revisions together.

    Parameters
    ----------
    slug : str
        The kind of pack.
    but : UUID | None
        A job that is left out: the one that asks.

    Returns
    -------
    LeaksFound
        The most frequent first.
    """
    signed = Entry.objects.filter(
        job_id__in=_jobs_of(slug, but), kind__in=(str(Kind.SIGN), str(Kind.REOPEN))
    )
    standing = _standing(signed.order_by("job_id", "seq").values(*_TOLD))
    modules, parts = defaultdict[str, list[UUID]](list), defaultdict[str, list[UUID]](list)
    looked_at, in_pack = [], []
    for (job, step), row in standing.items():
        if step != LOCALISE:
            continue
        looked_at.append(job)
        if row[f"{_RESULT}outcome"] == "module" and row[f"{_RESULT}confirmed_by"]:
            for name in row[f"{_RESULT}leaking"]:
                modules[name].append(job)
        if row[f"{_RESULT}outcome"] == "pack_not_module":
            in_pack.append(job)
        isolation = standing.get((job, ISOLATE), {})
        for name in isolation.get(f"{_RESULT}vehicle__leaking") or ():
            parts[name].append(job)
    return LeaksFound(
        looked_at=tuple(looked_at),
        modules=_most_first(modules),
        parts=_most_first(parts),
        in_pack=tuple(in_pack),
    )


def _most_first(found: Mapping[str, list[UUID]]) -> dict[str, tuple[UUID, ...]]:
    often = sorted(found.items(), key=lambda one: (-len(one[1]), one[0]))
    return {name: tuple(jobs) for name, jobs in often}
