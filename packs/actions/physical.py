"""Changes to packs as things: check, then write, in one transaction."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from packs.errors import Conflict, InputRefused
from packs.models import Pack, PhysicalPack, PhysicalPackEvent
from packs.queries.physical import PhysicalPackInfo, pack_info


@dataclass(frozen=True, slots=True)
class PackDetails:
    """What the register says of a pack: serial as on its plate, kind if known, and a note."""

    serial: str
    slug: str | None = None
    note: str = ""


@transaction.atomic
def add_physical_pack(
    *,
    serial: str,
    slug: str | None = None,
    note: str = "",
    by: UUID | None = None,
    now: datetime | None = None,
) -> PhysicalPackInfo:
    """Enter a pack as a thing, or return it if it is known.

    Parameters
    ----------
    serial : str
        As on the pack's plate.
    slug : str or None
        Its kind, if it is known yet. Without one the pack of that serial is meant, of whatever
        kind, as long as there is only one.
    note : str
        Anything that tells it apart.
    by : UUID or None
        Key of the person.
    now : datetime or None
        The moment, which begins its history.

    Returns
    -------
    PhysicalPackInfo
        The pack.

    Raises
    ------
    InputRefused
        If the serial is empty or there is no definition of that name.
    """
    serial = serial.strip()
    if not serial:
        raise InputRefused("required", "serial")
    pack = _kind(slug)
    rows = list(PhysicalPack.objects.select_related("pack").filter(serial=serial))
    same = [row for row in rows if row.pack == pack]
    if not same and pack is None and len(rows) == 1:
        same = rows
    if same:
        return pack_info(same[0])
    unknown = next((row for row in rows if row.pack is None), None)
    if unknown is not None and slug and now is not None:
        return set_pack_kind(pack_id=unknown.id, slug=slug, by=by, now=now, note=note)
    row = PhysicalPack.objects.create(serial=serial, pack=pack, note=note.strip())
    if now is not None:
        _add_event(row, kind="added", values={}, note="", by=by, now=now)
    return pack_info(row)


@transaction.atomic
def correct_physical_pack(
    *,
    pack_id: UUID,
    details: PackDetails,
    reason: str,
    by: UUID | None,
    now: datetime,
) -> PhysicalPackInfo:
    """Correct what the register says of a pack; the history keeps what it said before.

    Parameters
    ----------
    pack_id : UUID
        The pack's key.
    details : PackDetails
        What it shall say. The serial tells which pack this is, so another one needs a reason;
        so does taking a known kind back, or naming another.
    reason : str
        What was wrong and how it was found out.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.

    Returns
    -------
    PhysicalPackInfo
        The pack. What it says already writes nothing.

    Raises
    ------
    InputRefused
        If the pack or the kind is unknown, the serial is empty, or a reason is missing.
    Conflict
        ``unit_taken`` if the register holds that serial and kind already.
    """
    slug, serial = details.slug, details.serial.strip()
    row, pack = _locked(pack_id), _kind(slug)
    if not serial:
        raise InputRefused("required", "serial")
    before = {"serial": row.serial, "kind": _slug(row), "note": row.note}
    after = {"serial": serial, "kind": slug or "", "note": details.note.strip()}
    changed = [name for name in before if before[name] != after[name]]
    if not changed:
        return pack_info(row)
    identity = "serial" in changed or ("kind" in changed and before["kind"])
    if identity and not reason.strip():
        raise InputRefused("correction_reason", "reason")
    _check_free(row, serial, pack)
    row.serial, row.pack, row.note = serial, pack, after["note"]
    row.save(update_fields=["serial", "pack", "note"])
    values = {name: before[name] for name in changed}
    values |= {f"new_{name}": after[name] for name in changed}
    _add_event(row, kind="corrected", values=values, note=reason, by=by, now=now)
    return pack_info(row)


@transaction.atomic
def set_pack_kind(
    *, pack_id: UUID, slug: str, by: UUID | None, now: datetime, note: str = ""
) -> PhysicalPackInfo:
    """Give a pack whose kind is not known the kind that a job has found.

    Parameters
    ----------
    pack_id : UUID
        The pack's key.
    slug : str
        The kind.
    by : UUID or None
        Key of the person.
    now : datetime
        The moment.
    note : str
        Where it was found out.

    Returns
    -------
    PhysicalPackInfo
        The pack. Where the register holds this serial and kind already, the pack keeps none and
        its history says so: it was entered twice.

    Raises
    ------
    Conflict
        ``kind_differs`` if it is of another kind already; nothing is overwritten.
    """
    row, pack = _locked(pack_id), _kind(slug)
    if row.pack is not None and row.pack != pack:
        raise Conflict("kind_differs", serial=row.serial, kind=_slug(row), wanted=slug)
    if row.pack is not None:
        return pack_info(row)
    if PhysicalPack.objects.filter(serial=row.serial, pack=pack).exists():
        _add_event(row, kind="twice", values={"new_kind": slug}, note=note, by=by, now=now)
        return pack_info(row)
    row.pack = pack
    row.save(update_fields=["pack"])
    values = {"kind": "", "new_kind": slug}
    _add_event(row, kind="kind_found", values=values, note=note, by=by, now=now)
    return pack_info(row)


def _kind(slug: str | None) -> Pack | None:
    """Return the row of a kind; None for none."""
    if not slug:
        return None
    pack = Pack.objects.filter(slug=slug).first()
    if pack is None:
        raise InputRefused("unknown_pack", "slug", slug=slug)
    return pack


def _slug(row: PhysicalPack) -> str:
    """Return the name of a pack's kind; empty where it is not known."""
    return "" if row.pack is None else row.pack.slug


def _locked(pack_id: UUID) -> PhysicalPack:
    """Return a pack's row, locked where the database can."""
    rows = PhysicalPack.objects.select_for_update(of=("self",)).select_related("pack")
    row = rows.filter(id=pack_id).first()
    if row is None:
        raise InputRefused("unknown_unit")
    return row


def _check_free(row: PhysicalPack, serial: str, pack: Pack | None) -> None:
    """Refuse a serial and kind that another row has."""
    others = PhysicalPack.objects.filter(serial=serial, pack=pack).exclude(id=row.id)
    if others.exists():
        kind = gettext("of no known kind") if pack is None else pack.slug
        raise Conflict("unit_taken", "serial", serial=serial, kind=kind)


def _add_event(
    row: PhysicalPack,
    *,
    kind: str,
    values: dict[str, str],
    note: str,
    by: UUID | None,
    now: datetime,
) -> None:
    """Write the next line of a pack's history."""
    PhysicalPackEvent.objects.create(
        physical_pack=row,
        number=row.events.count() + 1,
        at=now,
        kind=kind,
        values=values,
        note=note.strip()[:500],
        person_id=by,
    )
