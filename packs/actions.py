"""Changes to pack definitions, packs as things, and spares; the one writer of packs/models.py.

Each action checks, then writes, in one transaction; the time is handed in. Reading is
packs/queries.py. Who may call an action is decided where the person is known.
"""

from dataclasses import asdict
from datetime import datetime
from math import isfinite
from uuid import UUID, uuid4

from django.db import transaction

from packs.definition import CURVES, digest, from_toml
from packs.errors import Conflict, InputRefused
from packs.models import Pack, PackRevision, PhysicalPack, Spare, SpareEvent
from packs.queries import PhysicalPackInfo, RevisionInfo, latest_revision, revision, spare
from packs.spares import (
    ADDED,
    COMPARATORS,
    IN_STOCK,
    MOVED,
    MOVES,
    QUARANTINED,
    STATES,
    TESTED,
    NewSpare,
    SpareInfo,
    SpareTest,
)


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


@transaction.atomic
def add_physical_pack(*, serial: str, slug: str | None = None, note: str = "") -> PhysicalPackInfo:
    """Enter a pack as a thing, or return it if it is known.

    Parameters
    ----------
    serial : str
        As on the pack's plate.
    slug : str or None
        Its kind, if it is known yet.
    note : str
        Anything that tells it apart.

    Returns
    -------
    PhysicalPackInfo
        The pack.

    Raises
    ------
    InputRefused
        If the serial is empty or there is no definition of that name.
    """
    if not serial.strip():
        raise InputRefused("required", "serial")
    pack = None
    if slug is not None:
        pack = Pack.objects.filter(slug=slug).first()
        if pack is None:
            raise InputRefused("unknown_pack", "slug", slug=slug)
    row, _ = PhysicalPack.objects.get_or_create(
        serial=serial.strip(), pack=pack, defaults={"note": note.strip()}
    )
    return PhysicalPackInfo(row.id, row.serial, slug, row.note)


@transaction.atomic
def add_spare(
    *, new: NewSpare, by: UUID | None, now: datetime, spare_id: UUID | None = None
) -> SpareInfo:
    """Take a spare into stock.

    Parameters
    ----------
    new : NewSpare
        What was entered.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.
    spare_id : UUID or None
        Key made where the spare was entered; the same key again changes nothing.

    Returns
    -------
    SpareInfo
        The spare.

    Raises
    ------
    InputRefused
        If a field is empty or out of range.
    Conflict
        ``serial_taken`` if another spare has this serial.
    """
    key = spare_id or uuid4()
    if Spare.objects.filter(id=key).exists():
        return spare(key)
    _check_new(new)
    _check_test(new.test, now)
    serial = new.serial.strip()
    if Spare.objects.filter(serial=serial).exists():
        raise Conflict("serial_taken", "serial", serial=serial)
    row = Spare.objects.create(
        id=key,
        serial=serial,
        part=new.part.strip(),
        chemistry=new.chemistry,
        cells=new.cells,
        provenance=new.provenance.strip(),
        place=new.place.strip(),
        state=IN_STOCK,
        **asdict(new.test),
    )
    _add_event(row, kind=ADDED, by=by, now=now, values=new.test.as_json())
    return spare(key)


@transaction.atomic
def move_spare(
    *, spare_id: UUID, state: str, place: str, by: UUID | None, now: datetime, note: str = ""
) -> SpareInfo:
    """Bring a spare to another place or state.

    Parameters
    ----------
    spare_id : UUID
        The spare's key.
    state : str
        One of ``packs.spares.STATES``.
    place : str
        Where it stands now.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.
    note : str
        Why.

    Returns
    -------
    SpareInfo
        The spare. A move to where it stands already writes nothing.

    Raises
    ------
    InputRefused
        If the spare or the state is unknown, or it leaves quarantine without a reason.
    Conflict
        ``no_such_move`` if that state cannot follow the present one.
    """
    if state not in STATES:
        raise InputRefused("unknown_state", "state", state=state)
    row = _locked(spare_id)
    if (row.state, row.place) == (state, place.strip()):
        return spare(spare_id)
    if state not in MOVES[row.state]:
        raise Conflict("no_such_move", "state", before=STATES[row.state], after=STATES[state])
    if (row.state, state) == (QUARANTINED, IN_STOCK) and not note.strip():
        raise InputRefused("reason_needed", "note")
    row.state, row.place = state, place.strip()
    row.save(update_fields=["state", "place"])
    _add_event(row, kind=MOVED, by=by, now=now, note=note)
    return spare(spare_id)


@transaction.atomic
def add_spare_test(
    *, spare_id: UUID, test: SpareTest, by: UUID | None, now: datetime, note: str = ""
) -> SpareInfo:
    """Add a test; what was measured replaces the latest figures, the history keeps the older.

    Parameters
    ----------
    spare_id : UUID
        The spare's key.
    test : SpareTest
        What was measured; None leaves the earlier figure standing.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.
    note : str
        How it was measured.

    Returns
    -------
    SpareInfo
        The spare. The figures it has already write nothing.

    Raises
    ------
    InputRefused
        If the spare is unknown or a figure is out of range.
    """
    _check_test(test, now)
    row = _locked(spare_id)
    measured = {key: value for key, value in asdict(test).items() if value is not None}
    if test.insulation_ohm is None:
        measured.pop("insulation_comparator")
    if all(getattr(row, key) == value for key, value in measured.items()):
        return spare(spare_id)
    for key, value in measured.items():
        setattr(row, key, value)
    row.save(update_fields=list(measured))
    _add_event(row, kind=TESTED, by=by, now=now, note=note, values=test.as_json())
    return spare(spare_id)


def _locked(spare_id: UUID) -> Spare:
    """Return a spare's row, locked where the database can."""
    row = Spare.objects.select_for_update().filter(id=spare_id).first()
    if row is None:
        raise InputRefused("unknown_spare")
    return row


def _add_event(
    row: Spare,
    *,
    kind: str,
    by: UUID | None,
    now: datetime,
    note: str = "",
    values: dict[str, object] | None = None,
) -> None:
    """Write the next line of a spare's history."""
    SpareEvent.objects.create(
        spare=row,
        number=row.events.count() + 1,
        at=now,
        kind=kind,
        state=row.state,
        place=row.place,
        values=values or {},
        note=note.strip(),
        person_id=by,
    )


def _check_new(new: NewSpare) -> None:
    """Refuse a spare whose plate or origin is not entered."""
    for field in ("serial", "part", "chemistry", "provenance"):
        if not getattr(new, field).strip():
            raise InputRefused("required", field)
    if new.chemistry not in CURVES:
        raise InputRefused("unknown_chemistry", "chemistry", known=", ".join(CURVES))
    if new.cells < 1:
        raise InputRefused("not_positive", "cells")


def _check_test(test: SpareTest, now: datetime) -> None:
    """Refuse figures that no instrument shows."""
    figures = ("capacity_ah", "resistance_mohm", "cell_v", "insulation_ohm", "insulation_test_v")
    for field in figures:
        value = getattr(test, field)
        if value is not None and not (isfinite(value) and value > 0):
            raise InputRefused("not_positive", field)
    if test.insulation_comparator not in COMPARATORS:
        raise InputRefused("bound_without_value", "insulation_comparator")
    if test.insulation_ohm is None and test.insulation_test_v is not None:
        raise InputRefused("bound_without_value", "insulation_ohm")
    if test.tested_on is not None and test.tested_on > now.date():
        raise InputRefused("in_future", "tested_on")
