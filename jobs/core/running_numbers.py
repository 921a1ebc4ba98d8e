"""The running numbers of a tablet: up to where nothing is missing, and which are missing.

Ranges are pairs of first and last number, both belonging to it; a tablet may say any count it
likes, so nothing here counts up to it one by one.
"""

from collections.abc import Collection, Iterable, Sequence

__all__ = ["Ranges", "holds", "missing", "numbers_in", "whole_up_to"]

Ranges = tuple[tuple[int, int], ...]


def whole_up_to(whole: int, there: Collection[int], aside: Iterable[Sequence[int]] = ()) -> int:
    """Count on from what is known to be whole for as long as no number is missing.

    Parameters
    ----------
    whole : int
        All up to this are known to be there.
    there : Collection[int]
        Numbers above it that arrived or were dropped.
    aside : Iterable[Sequence[int]]
        Ranges that nobody waits for any more.

    Examples
    --------
    >>> whole_up_to(2, {3, 4, 7, 9}, [(5, 6)])
    7
    """
    ranges = sorted((first, last) for first, last in aside)
    while True:
        after = whole + 1
        if after in there:
            whole = after
            continue
        known = [last for first, last in ranges if first <= after <= last]
        if not known:
            return whole
        whole = max(known)


def missing(
    whole: int, made: int, there: Iterable[int], aside: Iterable[Sequence[int]] = ()
) -> Ranges:
    """Give the ranges between what is whole and the highest number that are not there.

    Examples
    --------
    >>> missing(2, 9, {3, 4, 7}, [(6, 6)])
    ((5, 5), (8, 9))
    >>> missing(9, 9, ())
    ()
    """
    known = sorted([*((each, each) for each in set(there)), *((a, b) for a, b in aside)])
    found, after = [], whole + 1
    for first, last in known:
        if after < first and after <= made:
            found.append((after, min(first - 1, made)))
        after = max(after, last + 1)
    if after <= made:
        found.append((after, made))
    return tuple(found)


def numbers_in(ranges: Iterable[Sequence[int]]) -> int:
    """Count the numbers of ranges that do not overlap.

    Examples
    --------
    >>> numbers_in([(5, 5), (8, 9)])
    3
    """
    return sum(last - first + 1 for first, last in ranges)


def holds(ranges: Iterable[Sequence[int]], number: int) -> bool:
    """Tell whether a number lies in one of the ranges."""
    return any(first <= number <= last for first, last in ranges)
