"""Changes to packs as things: check, then write, in one transaction."""

from django.db import transaction

from packs.errors import InputRefused
from packs.models import Pack, PhysicalPack
from packs.queries.physical import PhysicalPackInfo


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
