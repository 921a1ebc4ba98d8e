"""Reading small registers seldom: the shop's row, its limits, who is signed on.

What a request has read it keeps until it ends, until a statement that writes, and until a writer's
turn begins or ends: so an action decides by what the database says then. Registers whose changes
the database marks (triggers, `RegisterMark`) are kept from request to request besides, each beside
the mark under which it was read; one small question tells whether that mark stands. A mark is drawn
at random, so that none comes back after a database was set back. What a transaction has changed it
reads anew: its own mark may be drawn at its end only.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import wraps
from typing import Any, Final, ParamSpec, TypeVar

from django.db import connection

__all__ = ["asking", "forget", "kept_register", "once_a_request"]

P = ParamSpec("P")
A = TypeVar("A")


@dataclass(slots=True)
class _Kept:
    """What a request has read, and the mark of the registers before the first of them was.

    The mark is firm where no transaction can give it up again. `has_written`: amid a transaction.
    """

    found: dict[Any, Any] = field(default_factory=dict)
    mark: int | None = None
    firm: bool = False
    has_written: bool = False


_KEPT: ContextVar[_Kept | None] = ContextVar("registers read in a request", default=None)
_READS: Final = ("SELECT", "SAVEPOINT", "RELEASE", "BEGIN")
_SHELF: dict[Any, tuple[int, Any]] = {}
"""What requests have read of marked registers, by what was asked, with the mark then."""
_SHELF_HOLDS: Final = 256


def _mark() -> int | None:
    """Give the mark that the database draws anew with each change; None where it has none."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT mark FROM workshop_registermark")
        row = cursor.fetchone()
    return None if row is None else int(row[0])


def forget() -> None:
    """Let what was read so far be read again."""
    kept = _KEPT.get()
    if kept is not None:
        kept.found.clear()
        kept.mark = None
        kept.has_written = kept.has_written and connection.in_atomic_block


def _watched(execute: Callable[..., Any], sql: Any, params: Any, many: bool, context: Any) -> Any:  # noqa: FBT001 - Django calls it so
    if not str(sql).startswith(_READS):
        forget()
        kept = _KEPT.get()
        if kept is not None:
            kept.has_written = connection.in_atomic_block
    return execute(sql, params, many, context)


@contextmanager
def asking() -> Iterator[None]:
    """Keep what is read inside the block, which is one request."""
    mark = _KEPT.set(_Kept())
    try:
        with connection.execute_wrapper(_watched):
            yield
    finally:
        _KEPT.reset(mark)


def once_a_request(read: Callable[P, A]) -> Callable[P, A]:
    """Let a query of a register be asked once a request; outside of one, every time.

    Parameters
    ----------
    read : Callable
        Reads the database alone, by arguments that can be compared; nobody changes its result.

    Returns
    -------
    Callable
        The same.
    """
    return _kept_by(read, lambda _kept, _on, act: act())


def kept_register(read: Callable[P, A]) -> Callable[P, A]:
    """Let a query of marked registers be asked only where one of them has changed.

    Outside of a request it is asked every time. `read` as for `once_a_request`; it reads no other
    tables than those whose changes are marked, or rows that never change.
    """
    return _kept_by(read, _from_shelf)


def _from_shelf(kept: _Kept, on: Any, act: Callable[[], A]) -> A:
    if kept.has_written and connection.in_atomic_block:
        return act()
    if kept.mark is None:
        kept.mark, kept.firm = _mark(), not connection.in_atomic_block
    mark, firm = kept.mark, kept.firm
    known = _SHELF.get(on)
    if known is not None and known[0] == mark:
        found: A = known[1]
        return found
    found = act()
    # What is read amid a transaction may be its own, and be given up.
    if mark is not None and firm and not connection.in_atomic_block:
        if len(_SHELF) >= _SHELF_HOLDS:
            _SHELF.clear()
        _SHELF[on] = (mark, found)
    return found


def _kept_by(
    read: Callable[P, A], ask: Callable[[_Kept, Any, Callable[[], A]], A]
) -> Callable[P, A]:
    @wraps(read)
    def asked(*args: P.args, **named: P.kwargs) -> A:
        kept = _KEPT.get()
        if kept is None:
            return read(*args, **named)
        on = (read, args, tuple(sorted(named.items())))
        if on not in kept.found:
            kept.found[on] = ask(kept, on, lambda: read(*args, **named))
        found: A = kept.found[on]
        return found

    return asked
