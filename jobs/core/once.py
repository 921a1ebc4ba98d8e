"""Assessing a record once: a page asks eight rooms, and rooms look back at one another.

A record never changes and knows its own time, so an assessment of the very same object is the
same. Not for anything that depends on more than what is handed in.
"""

from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from functools import wraps
from typing import Any, Final, ParamSpec, TypeVar

__all__ = ["once_a_record"]

P = ParamSpec("P")
A = TypeVar("A")
KEPT: Final = 12
"""Records of which an assessment is kept: those of a page with its signatures."""


def once_a_record(assess: Callable[P, A]) -> Callable[P, A]:
    """Keep the last results of a function of a record, by the record itself.

    Parameters
    ----------
    assess : Callable
        Pure: the same record, with the same objects beside it, gives the same result, which
        nobody changes. What is handed in is never compared, only recognised.

    Returns
    -------
    Callable
        The same, asked once for each record among the last few.
    """
    # What was handed in is kept beside its result, so that no other object gets its identity.
    kept: OrderedDict[tuple[int, ...], tuple[tuple[Any, ...], A]] = OrderedDict()

    @wraps(assess)
    def assessed(*args: P.args, **named: P.kwargs) -> A:
        if named:
            return assess(*args, **named)
        on = tuple(map(id, args))
        known = kept.get(on)
        if known is not None:
            return known[1]
        result = assess(*args, **named)
        kept[on] = (args, result)
        if len(kept) > KEPT:
            with suppress(KeyError):
                kept.popitem(last=False)
        return result

    return assessed
