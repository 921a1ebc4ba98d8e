"""Reading of pack definitions and their revisions; frozen records, never rows."""

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from uuid import UUID

from django.db.models import OuterRef, QuerySet, Subquery

from packs.definition import PackDefinition, from_toml
from packs.errors import InputRefused
from packs.models import Pack, PackRevision

REVISIONS_KEPT = 64
"""Read definitions kept in memory; a shop knows a few dozen kinds of pack."""


@dataclass(frozen=True, slots=True)
class RevisionInfo:
    """One revision of a definition, read."""

    id: UUID
    slug: str
    number: int
    definition: PackDefinition
    toml: str
    sha256: str
    created_at: datetime
    created_by: UUID | None
    note: str


@dataclass(frozen=True, slots=True)
class PackInfo:
    """A kind of pack as the list shows it."""

    id: UUID
    slug: str
    name: str
    withdrawn_at: datetime | None
    revisions: int
    changed_at: datetime


@dataclass(frozen=True, slots=True)
class PackRow:
    """A kind of pack in the register, with its newest definition."""

    slug: str
    name: str
    withdrawn_at: datetime | None
    number: int
    changed_at: datetime
    definition: PackDefinition


@dataclass(frozen=True, slots=True)
class RevisionLine:
    """A revision in the history of a kind of pack."""

    number: int
    created_at: datetime
    created_by: UUID | None
    note: str


def packs_list(*, withdrawn: bool = False) -> tuple[PackInfo, ...]:
    """Return the kinds of pack the shop has a definition for.

    Parameters
    ----------
    withdrawn : bool
        Whether to include those withdrawn from use.

    Returns
    -------
    tuple of PackInfo
        By name.
    """
    rows = Pack.objects.all() if withdrawn else Pack.objects.filter(withdrawn_at=None)
    latest = {
        row.pack_id: row
        for row in PackRevision.objects.order_by("number").only("pack_id", "number", "created_at")
    }
    return tuple(
        PackInfo(
            id=row.id,
            slug=row.slug,
            name=row.name,
            withdrawn_at=row.withdrawn_at,
            revisions=latest[row.id].number,
            changed_at=latest[row.id].created_at,
        )
        for row in rows
        if row.id in latest
    )


def pack_rows() -> tuple[PackRow, ...]:
    """Return every kind of pack with its newest definition, withdrawn or not, by name."""
    newest = PackRevision.objects.filter(pack=OuterRef("pack")).order_by("-number")
    rows = PackRevision.objects.filter(id=Subquery(newest.values("id")[:1])).select_related("pack")
    return tuple(
        PackRow(
            slug=row.pack.slug,
            name=row.pack.name,
            withdrawn_at=row.pack.withdrawn_at,
            number=row.number,
            changed_at=row.created_at,
            definition=_read(row.id, row.toml),
        )
        for row in rows.order_by("pack__name", "pack__id")
    )


def revision_lines(slug: str) -> tuple[RevisionLine, ...]:
    """Return the history of a kind of pack, newest first."""
    rows = PackRevision.objects.filter(pack__slug=slug).order_by("-number").defer("toml")
    return tuple(RevisionLine(row.number, row.created_at, row.created_by, row.note) for row in rows)


@lru_cache(maxsize=REVISIONS_KEPT)
def _read(revision_id: UUID, toml: str) -> PackDefinition:  # noqa: ARG001 - names what is kept
    """Read a revision's text once."""
    return from_toml(toml)


def is_withdrawn(slug: str) -> bool:
    """Say whether a kind of pack was taken out of use for new jobs."""
    return Pack.objects.filter(slug=slug, withdrawn_at__isnull=False).exists()


@lru_cache(maxsize=REVISIONS_KEPT)
def revision(revision_id: UUID) -> RevisionInfo:
    """Return one revision; it never changes, so it is read once.

    Parameters
    ----------
    revision_id : UUID
        The revision's key.

    Returns
    -------
    RevisionInfo
        With the definition read.

    Raises
    ------
    InputRefused
        ``unknown_revision`` if there is none.
    """
    row = PackRevision.objects.select_related("pack").filter(id=revision_id).first()
    if row is None:
        raise InputRefused("unknown_revision")
    return RevisionInfo(
        id=row.id,
        slug=row.pack.slug,
        number=row.number,
        definition=_read(row.id, row.toml),
        toml=row.toml,
        sha256=row.sha256,
        created_at=row.created_at,
        created_by=row.created_by,
        note=row.note,
    )


def latest_revision(slug: str) -> RevisionInfo:
    """Return the newest revision of a kind of pack, withdrawn or not.

    Parameters
    ----------
    slug : str
        As in the definition.

    Returns
    -------
    RevisionInfo
        The one with the highest number.

    Raises
    ------
    InputRefused
        ``unknown_revision`` if there is no such definition.
    """
    return _first_revision(PackRevision.objects.filter(pack__slug=slug).order_by("-number"))


def numbered_revision(slug: str, number: int) -> RevisionInfo:
    """Return one revision of a kind of pack by its number.

    Parameters
    ----------
    slug : str
        As in the definition.
    number : int
        Counted from 1.

    Returns
    -------
    RevisionInfo
        That revision.

    Raises
    ------
    InputRefused
        ``unknown_revision`` if there is none.
    """
    return _first_revision(PackRevision.objects.filter(pack__slug=slug, number=number))


def revision_numbers(slug: str) -> tuple[int, ...]:
    """Return the numbers of a kind of pack's revisions, newest first."""
    rows = PackRevision.objects.filter(pack__slug=slug).order_by("-number")
    return tuple(rows.values_list("number", flat=True))


def _first_revision(rows: QuerySet[PackRevision]) -> RevisionInfo:
    """Return the first of some revisions."""
    found = rows.values_list("id", flat=True).first()
    if found is None:
        raise InputRefused("unknown_revision")
    return revision(found)
