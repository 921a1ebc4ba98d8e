"""The photos of a job for its technical record, each with its entry, time, person and digest."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from django.utils.translation import gettext

from jobs.core.entry import Entry, Kind
from jobs.core.item import Item, Shape
from jobs.core.record import Record
from jobs.report.blocks import Block, Heading, NewPage, Paragraph, Photo, Photos
from jobs.report.wording import Wording
from workshop import figures_text
from workshop.kept_files import NoPicture, TooManyPixels, picture_again, read_kept

__all__ = ["photo_blocks"]

LONGEST_SIDE_PX: Final = 800
QUALITY: Final = 70
ROOM_MM: Final = 110.0
"""Room for the heading with a row of photos under it."""
"""A photo is kept as it was taken; in the document it is as sharp as print needs at its size."""


def _small(sha256: str) -> tuple[bytes | None, str]:
    """Give a picture made small, or why there is none."""
    try:
        raw = read_kept(sha256)
        return picture_again(raw, longest_side_px=LONGEST_SIDE_PX, quality=QUALITY), ""
    except OSError:
        return None, gettext("The file of this photo is missing from the store.")
    except (NoPicture, TooManyPixels):
        return None, gettext("The file of this photo cannot be read as a picture.")


def _photo(entry: Entry, label: str, record: Record, words: Wording) -> Photo:
    content, fault = _small(entry.value["sha256"])
    taken = gettext("Entry {number}, {at}, {name}").format(
        number=entry.seq,
        at=figures_text.moment(entry.at, words.zone),
        name=words.name(entry.person),
    )
    struck = record.gone.get(entry.key, "")
    said = (gettext("struck: {reason}").format(reason=struck),) if struck else ()
    digest = gettext("SHA-256 of the file: {digest}").format(digest=entry.value["sha256"])
    named = f"{label}: {fault}" if fault else label
    return Photo(content, named, (taken, *said, digest))


def photo_blocks(record: Record, items: Mapping[str, Item[Any]], words: Wording) -> Iterator[Block]:
    """Give every photo of a job, struck ones too.

    Parameters
    ----------
    record : Record
        The job.
    items : Mapping[str, Item]
        Its items by key.
    words : Wording
        Its words.

    Yields
    ------
    Block
        A heading and the photos in the order of the record; nothing where there are none.
    """
    shown = []
    for entry in record.entries:
        item = items.get(entry.item)
        if entry.kind is Kind.VALUE and item is not None and item.shape is Shape.PHOTO:
            qualifier = words.qualifier(entry.qualifier)
            label = gettext(item.label)
            named = f"{label} ({qualifier})" if qualifier else label
            shown.append(_photo(entry, named, record, words))
    if shown:
        yield NewPage(ROOM_MM)
        yield Heading(gettext("Photos"))
        yield Paragraph(
            gettext(
                "Made smaller for this document; the digest is that of the file as it is kept."
            ),
            soft=True,
        )
        yield Photos(tuple(shown))
