"""Reading of drafts of definitions; frozen records, never rows."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from packs.draft_check import Checked, checked
from packs.errors import InputRefused
from packs.models import PackDraft


@dataclass(frozen=True, slots=True)
class DraftInfo:
    """A draft as it stands; ``touched`` gives version, person and moment of each section."""

    id: UUID
    slug: str
    name: str
    content: Mapping[str, Any]
    base_number: int | None
    version: int
    touched: Mapping[str, Mapping[str, Any]]
    changed_at: datetime
    changed_by: UUID | None

    def check(self) -> Checked:
        """Say whether it is complete, and what it lacks."""
        return checked(self.content)


def drafts() -> tuple[DraftInfo, ...]:
    """Return every draft that is being written, by name."""
    return tuple(draft_info(row) for row in PackDraft.objects.filter(published=None))


def draft(draft_id: UUID) -> DraftInfo:
    """Return one draft.

    Parameters
    ----------
    draft_id : UUID
        The draft's key.

    Returns
    -------
    DraftInfo
        As it stands now.

    Raises
    ------
    InputRefused
        ``unknown_draft`` if there is none, or it was published or discarded.
    """
    row = PackDraft.objects.filter(id=draft_id, published=None).first()
    if row is None:
        raise InputRefused("unknown_draft")
    return draft_info(row)


def draft_of(slug: str) -> DraftInfo | None:
    """Return the draft of a kind of pack; None if nobody writes one."""
    row = PackDraft.objects.filter(slug=slug, published=None).first()
    return None if row is None else draft_info(row)


def draft_info(row: PackDraft) -> DraftInfo:
    """Return a row as a record."""
    return DraftInfo(
        id=row.id,
        slug=row.slug,
        name=row.name,
        content=row.content if isinstance(row.content, dict) else {},
        base_number=row.base_number,
        version=row.version,
        touched=row.touched if isinstance(row.touched, dict) else {},
        changed_at=row.changed_at,
        changed_by=row.changed_by,
    )
