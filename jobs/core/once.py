"""Assessing a record once: a page asks eight rooms, and rooms look back at one another.

A record never changes and knows its own time, so an assessment of the very same object is the
same. Not for anything that depends on more than the record.
"""

from collections import deque
from collections.abc import Callable
from functools import wraps
from typing import Final, TypeVar

from jobs.core.record import Record

__all__ = ["once_a_record"]

A = TypeVar("A")
KEPT: Final = 12
"""Records of which a room keeps its assessment: those of a page with its signatures."""


def once_a_record(assess: Callable[[Record], A]) -> Callable[[Record], A]:
    """Keep the last assessments of a room, by the record itself and not by what it is equal to.

    Parameters
    ----------
    assess : Callable
        Pure: the same record gives the same result, which nobody changes.

    Returns
    -------
    Callable
        The same, asked once for each record among the last few.
    """
    kept: deque[tuple[Record, A]] = deque(maxlen=KEPT)

    @wraps(assess)
    def assessed(record: Record) -> A:
        for known, result in tuple(kept):
            if known is record:
                return result
        result = assess(record)
        kept.append((record, result))
        return result

    return assessed
