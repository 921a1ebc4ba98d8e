"""Changes to pack definitions: check, then write, in one transaction."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from packs.definition import digest, from_toml
from packs.models import Pack, PackRevision
from packs.queries.definitions import RevisionInfo, latest_revision, revision


@transaction.atomic
def add_pack_revision(
    *, toml: str | bytes, by: UUID | None, now: datetime, note: str = ""
) -> RevisionInfo:
    """Store a definition as the next revision of its kind of pack.

    Parameters
    ----------
    toml : str or bytes
        The definition as sent; kept as it is, comments included.
    by : UUID or None
        Key of the person who sent it.
    now : datetime
        The moment.
    note : str
        What changed and why.

    Returns
    -------
    RevisionInfo
        The new revision, or the newest one if its content is the same: sending a file twice
        makes one revision. Content that an older revision had gets a new number. A kind that
        was withdrawn is in use again.

    Raises
    ------
    DefinitionRefused
        With everything that is wrong in the text.
    """
    definition = from_toml(toml)
    text = toml if isinstance(toml, str) else toml.decode()
    pack, _ = Pack.objects.select_for_update().get_or_create(
        slug=definition.slug, defaults={"name": definition.name}
    )
    Pack.objects.filter(id=pack.id).update(name=definition.name, withdrawn_at=None)
    sha256 = digest(definition)
    newest = pack.revisions.order_by("-number").first()
    if newest is not None and newest.sha256 == sha256:
        return revision(newest.id)
    added = PackRevision.objects.create(
        pack=pack,
        number=newest.number + 1 if newest else 1,
        toml=text,
        sha256=sha256,
        created_at=now,
        created_by=by,
        note=note.strip(),
    )
    return revision(added.id)


@transaction.atomic
def withdraw_pack(*, slug: str, now: datetime) -> None:
    """Take a kind of pack out of use for new jobs; open jobs keep their revision.

    Parameters
    ----------
    slug : str
        As in the definition.
    now : datetime
        The moment; a second withdrawal keeps the first one's.

    Raises
    ------
    InputRefused
        ``unknown_revision`` if there is no such definition.
    """
    latest_revision(slug)
    Pack.objects.filter(slug=slug, withdrawn_at=None).update(withdrawn_at=now)
