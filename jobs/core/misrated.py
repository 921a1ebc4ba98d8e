"""Picks of equipment whose ratings were corrected in the register after they were made.

The pick is at fault, not the piece: picked again it counts with its new ratings. Pure.
"""

from collections.abc import Collection, Mapping
from dataclasses import replace

from jobs.core.entry import Entry

__all__ = ["Live", "without_misrated"]

Live = Mapping[str, tuple[Entry, ...]]
"""Values in force by item key, oldest first."""


def _barred(entry: Entry) -> Entry:
    """Give a pick as one of a piece that may not be used."""
    return replace(entry, value={**entry.value, "withdrawn": True})


def without_misrated(
    live: Live, misrated: Collection[str], *, signed: Collection[str]
) -> tuple[dict[str, tuple[Entry, ...]], frozenset[str]]:
    """Take picks out of force, so that they have to be made again.

    Parameters
    ----------
    live : Live
        The values in force.
    misrated : Collection[str]
        Keys of the picks that hold ratings since corrected.
    signed : Collection[str]
        Steps that are signed. They keep their picks, as of pieces that may not be used: what was
        signed stays as it was, and nothing new is proven with them.

    Returns
    -------
    tuple[dict[str, tuple[Entry, ...]], frozenset[str]]
        The values in force afterwards, and the keys of the picks that are out.
    """
    left: dict[str, tuple[Entry, ...]] = {}
    out: set[str] = set()
    for item, values in live.items():
        hit = {value.key for value in values if value.key in misrated}
        if item.partition(".")[0] in signed:
            left[item] = tuple(_barred(each) if each.key in hit else each for each in values)
            continue
        out |= hit
        kept = tuple(each for each in values if each.key not in hit)
        if kept:
            left[item] = kept
    return left, frozenset(out)
