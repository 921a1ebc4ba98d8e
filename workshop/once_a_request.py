"""Reading small registers once a request: the shop's row, its limits, who is signed on.

Kept only while a request asks; forgotten with every statement that writes and wherever a writer's
turn begins or ends, so that an action decides by what the database says then.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from typing import Any, Final, ParamSpec, TypeVar

from django.db import connection

__all__ = ["asking", "forget", "once_a_request"]

P = ParamSpec("P")
A = TypeVar("A")
_KEPT: ContextVar[dict[Any, Any] | None] = ContextVar("registers read in a request", default=None)
_READS: Final = ("SELECT", "SAVEPOINT", "RELEASE")


def forget() -> None:
    """Let what was read so far be read again."""
    kept = _KEPT.get()
    if kept:
        kept.clear()


def _watched(execute: Callable[..., Any], sql: Any, params: Any, many: bool, context: Any) -> Any:  # noqa: FBT001 - Django calls it so
    if not str(sql).startswith(_READS):
        forget()
    return execute(sql, params, many, context)


@contextmanager
def asking() -> Iterator[None]:
    """Keep what is read inside the block, which is one request."""
    mark = _KEPT.set({})
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
        if on not in kept:
            kept[on] = read(*args, **named)
        found: A = kept[on]
        return found

    return asked
