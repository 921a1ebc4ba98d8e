"""Reading small registers once a request: the shop's row, its limits, who is signed on.

Kept only while a request asks; forgotten with every statement that writes and wherever a writer's
turn ends. Where a turn begins it is forgotten too, unless the database itself says that nobody has
written since: so an action decides by what the database says then.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import wraps
from typing import Any, Final, ParamSpec, TypeVar

from django.db import connection

__all__ = ["asking", "forget", "forget_what_changed", "once_a_request"]

P = ParamSpec("P")
A = TypeVar("A")


@dataclass(slots=True)
class _Kept:
    """What was read, and the state of the database before the first of it was."""

    found: dict[Any, Any] = field(default_factory=dict)
    state: int | None = None


_KEPT: ContextVar[_Kept | None] = ContextVar("registers read in a request", default=None)
_READS: Final = ("SELECT", "SAVEPOINT", "RELEASE", "BEGIN")


def _state() -> int | None:
    """Give a number that changes with whatever other connections commit; None where none does.

    What this connection writes itself does not change it, and is seen by `_watched`.
    """
    if connection.vendor != "sqlite":
        return None
    connection.ensure_connection()
    found: int = connection.connection.execute("PRAGMA data_version").fetchone()[0]
    return found


def forget() -> None:
    """Let what was read so far be read again."""
    kept = _KEPT.get()
    if kept is not None:
        kept.found.clear()
        kept.state = None


def forget_what_changed() -> None:
    """Let what was read so far be read again, unless nobody has written since."""
    kept = _KEPT.get()
    if kept is not None and (kept.state is None or kept.state != _state()):
        forget()


def _watched(execute: Callable[..., Any], sql: Any, params: Any, many: bool, context: Any) -> Any:  # noqa: FBT001 - Django calls it so
    if not str(sql).startswith(_READS):
        forget()
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

    @wraps(read)
    def asked(*args: P.args, **named: P.kwargs) -> A:
        kept = _KEPT.get()
        if kept is None:
            return read(*args, **named)
        on = (read, args, tuple(sorted(named.items())))
        if not kept.found:
            kept.state = _state()
        if on not in kept.found:
            kept.found[on] = read(*args, **named)
        found: A = kept.found[on]
        return found

    return asked
