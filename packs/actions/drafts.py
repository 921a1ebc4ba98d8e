"""Changes to drafts of definitions: check, then write, in one transaction.

One draft of a kind of pack at a time. Two people may write in different sections; in the same
one the second is told who was first and when.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction

from packs.actions.definitions import add_pack_revision
from packs.definition import FORMAT, to_toml
from packs.definition_content import value_at, with_value
from packs.definition_form import FormSection
from packs.draft_check import checked
from packs.draft_topology import Topology, content_of
from packs.errors import Conflict, InputRefused
from packs.models import Pack, PackDraft
from packs.queries.definitions import RevisionInfo, latest_revision, numbered_revision, revision
from packs.queries.drafts import DraftInfo, draft_info


@transaction.atomic
def start_draft(
    *, topology: Topology, by: UUID | None, now: datetime, draft_id: UUID | None = None
) -> DraftInfo:
    """Start a definition from topology alone.

    Parameters
    ----------
    topology : Topology
        Without faults.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.
    draft_id : UUID or None
        Key made where it was entered; the same key again changes nothing.

    Returns
    -------
    DraftInfo
        The draft.

    Raises
    ------
    Conflict
        ``kind_exists`` or ``draft_exists`` if the short name is taken.
    """
    key = draft_id or uuid4()
    again = PackDraft.objects.filter(id=key, published=None).first()
    if again is not None:
        return draft_info(again)
    _refuse_taken(topology.slug)
    return _created(key, content_of(topology), by=by, now=now)


@transaction.atomic
def draft_from_revision(
    *, slug: str, number: int | None = None, by: UUID | None, now: datetime
) -> DraftInfo:
    """Open a revision as a draft, or return the draft of that kind if there is one.

    Parameters
    ----------
    slug : str
        The kind of pack.
    number : int or None
        Which revision; None for the newest.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.

    Returns
    -------
    DraftInfo
        The draft, new or as it stands.

    Raises
    ------
    InputRefused
        ``unknown_revision`` if there is no such revision.
    """
    base = latest_revision(slug) if number is None else numbered_revision(slug, number)
    row = PackDraft.objects.filter(slug=slug, published=None).first()
    if row is not None:
        return draft_info(row)
    content = base.definition.model_dump(mode="json", exclude_none=True)
    return _created(uuid4(), content, base=base, by=by, now=now)


@transaction.atomic
def draft_from_table(*, content: Mapping[str, Any], by: UUID | None, now: datetime) -> DraftInfo:
    """Open what a file holds as a draft, complete or not.

    Parameters
    ----------
    content : Mapping
        As ``packs.definition_content.tidied`` left it.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.

    Returns
    -------
    DraftInfo
        The draft, based on the newest revision if the kind is known.

    Raises
    ------
    InputRefused
        ``required`` if it names no slug or no name.
    Conflict
        ``draft_exists`` if somebody writes one of this kind.
    """
    slug = content.get("slug")
    if not isinstance(slug, str) or not slug or len(slug) > 60:  # noqa: PLR2004 - as the column
        raise InputRefused("required", "slug")
    if PackDraft.objects.filter(slug=slug, published=None).exists():
        raise Conflict("draft_exists", "slug", slug=slug)
    known = Pack.objects.filter(slug=slug).exists()
    base = latest_revision(slug) if known else None
    return _created(uuid4(), dict(content), base=base, by=by, now=now)


@transaction.atomic
def change_draft(
    *,
    draft_id: UUID,
    section: FormSection,
    content: Mapping[str, Any],
    version: int,
    by: UUID | None,
    now: datetime,
) -> DraftInfo:
    """Put one section of the form into a draft; the other sections stay as they are.

    Parameters
    ----------
    draft_id : UUID
        The draft's key.
    section : FormSection
        Which fields are taken from the content.
    content : Mapping
        With the section's values.
    version : int
        Version of the draft that the person had before them [1].
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.

    Returns
    -------
    DraftInfo
        The draft. The values it has already write nothing.

    Raises
    ------
    InputRefused
        ``unknown_draft`` if it is gone; ``slug_fixed`` if its kind has revisions.
    Conflict
        ``draft_changed`` with ``by`` and ``at`` if the section was changed since that version.
    """
    row = _locked(draft_id)
    changed: dict[str, Any] = dict(row.content) if isinstance(row.content, dict) else {}
    for each in section.fields:
        changed = with_value(changed, each.path, value_at(content, each.path))
    if changed == row.content:
        return draft_info(row)
    last = row.touched.get(section.slug, {})
    if last.get("version", 0) > version:
        raise Conflict("draft_changed", by=last.get("by"), at=last.get("at"))
    _rename(row, changed)
    row.content = changed
    row.version += 1
    person = None if by is None else str(by)
    mark = {"version": row.version, "by": person, "at": now.isoformat()}
    row.touched = {**row.touched, section.slug: mark}
    row.changed_at, row.changed_by = now, by
    row.save()
    return draft_info(row)


@transaction.atomic
def discard_draft(*, draft_id: UUID) -> None:
    """Throw a draft away; one that is gone already stays gone."""
    PackDraft.objects.filter(id=draft_id, published=None).delete()


@transaction.atomic
def publish_draft(
    *,
    draft_id: UUID,
    note: str,
    version: int,
    over: int | None,
    by: UUID | None,
    now: datetime,
) -> RevisionInfo:
    """Make a complete draft the next revision of its kind, and close the draft.

    Parameters
    ----------
    draft_id : UUID
        The draft's key.
    note : str
        What changed and why.
    version : int
        Version of the draft whose differences the person saw [1].
    over : int or None
        Number of the newest revision they were compared with; None if there was none.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.

    Returns
    -------
    RevisionInfo
        The revision it became; the same one when it is published again.

    Raises
    ------
    InputRefused
        ``unknown_draft``, ``note_needed``, or ``draft_incomplete`` with its count.
    Conflict
        ``draft_changed`` or ``newer_revision`` if somebody was faster.
    """
    row = _locked(draft_id, published_too=True)
    if row.published_id is not None:
        return revision(row.published_id)
    if not note.strip():
        raise InputRefused("note_needed", "note")
    if row.version != version:
        person = None if row.changed_by is None else str(row.changed_by)
        raise Conflict("draft_changed", by=person, at=row.changed_at.isoformat())
    newest = newest_number(row.slug)
    if newest != over:
        raise Conflict("newer_revision", number=newest)
    found = checked(row.content)
    if found.definition is None:
        raise InputRefused("draft_incomplete", count=len(found.lacks))
    added = add_pack_revision(toml=to_toml(found.definition), by=by, now=now, note=note)
    row.published_id, row.content, row.touched = added.id, {}, {}
    row.changed_at, row.changed_by = now, by
    row.save()
    return added


def newest_number(slug: str) -> int | None:
    """Return the number of a kind's newest revision; None if there is none."""
    try:
        return latest_revision(slug).number
    except InputRefused:
        return None


def _created(
    key: UUID,
    content: dict[str, Any],
    *,
    base: RevisionInfo | None = None,
    by: UUID | None,
    now: datetime,
) -> DraftInfo:
    """Write a new draft."""
    row = PackDraft.objects.create(
        id=key,
        slug=content["slug"],
        name=str(content.get("name", content["slug"])),
        content={**content, "format": FORMAT},
        based_on_id=None if base is None else base.id,
        base_number=None if base is None else base.number,
        changed_at=now,
        changed_by=by,
    )
    return draft_info(row)


def _rename(row: PackDraft, changed: Mapping[str, Any]) -> None:
    """Let name and short name follow the content, if the short name may."""
    row.name = changed.get("name") or row.name
    slug = changed.get("slug") or row.slug
    if slug == row.slug:
        return
    if row.base_number is not None:
        raise InputRefused("slug_fixed", "slug", slug=row.slug)
    _refuse_taken(slug)
    row.slug = slug


def _refuse_taken(slug: str) -> None:
    """Refuse a short name that a definition or another draft has."""
    if Pack.objects.filter(slug=slug).exists():
        raise Conflict("kind_exists", "slug", slug=slug)
    if PackDraft.objects.filter(slug=slug, published=None).exists():
        raise Conflict("draft_exists", "slug", slug=slug)


def _locked(draft_id: UUID, *, published_too: bool = False) -> PackDraft:
    """Return a draft's row, locked where the database can."""
    row = PackDraft.objects.select_for_update().filter(id=draft_id).first()
    if row is None or (row.published_id is not None and not published_too):
        raise InputRefused("unknown_draft")
    return row
