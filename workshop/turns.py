"""One request computes at a time in a process.

Threads that compute at once gain nothing, as one interpreter runs them one after another, and each
has to win it back after every statement of the database (measured: DEVELOPERS.md). Nobody waits
for somebody's slow network: where what was sent is long in coming, the others go on beside.
"""

import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from threading import Lock
from typing import Any, Final, Protocol

__all__ = ["Application", "InTurn"]

WAIT_S: Final = 1.0
"""How long a request waits for its turn at most [s]; who did not get it by then goes on beside the
others."""
LOOK_S: Final = 0.02
"""How long is waited for what is sent with the request whose turn it is [s]."""
Application = Callable[[dict[str, Any], Any], Iterable[bytes]]


class Input(Protocol):
    """What was sent with a request, as PEP 3333 has it."""

    def read(self, size: int = -1, /) -> bytes: ...
    def readline(self, size: int = -1, /) -> bytes: ...
    def readlines(self, hint: int = -1, /) -> list[bytes]: ...
    def __iter__(self) -> Iterator[bytes]: ...


class _Turn:
    """The one turn there is, and since when whoever has it has waited for the network."""

    def __init__(self) -> None:
        self.lock = Lock()
        self.reading_since_s: float | None = None

    def _is_left_waiting(self) -> bool:
        since_s = self.reading_since_s
        return since_s is not None and time.monotonic() - since_s > LOOK_S

    def take(self) -> bool:
        """Wait for the turn; say whether it came, or is not worth waiting for."""
        until_s = time.monotonic() + WAIT_S
        while not self.lock.acquire(timeout=LOOK_S):
            if self._is_left_waiting() or time.monotonic() > until_s:
                return False
        return True

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Say that inside the block the network is waited for."""
        self.reading_since_s = time.monotonic()
        try:
            yield
        finally:
            self.reading_since_s = None


class _Sent:
    """What was sent with the request that has the turn; nobody waits while it is long in coming."""

    def __init__(self, sent: Input, turn: _Turn) -> None:
        self.sent = sent
        self.turn = turn

    def read(self, size: int = -1) -> bytes:
        with self.turn.reading():
            return self.sent.read(size)

    def readline(self, size: int = -1) -> bytes:
        with self.turn.reading():
            return self.sent.readline(size)

    def readlines(self, hint: int = -1) -> list[bytes]:
        with self.turn.reading():
            return self.sent.readlines(hint)

    def __iter__(self) -> Iterator[bytes]:
        while line := self.readline():
            yield line


class InTurn:
    """A WSGI application that computes one answer at a time.

    Parameters
    ----------
    application : Application
        Makes the answers. What it gives piece by piece is made without a turn.
    """

    def __init__(self, application: Application) -> None:
        self.application = application
        self.turn = _Turn()

    def __call__(self, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        """Wait for the turn and answer."""
        if not self.turn.take():
            return self.application(environ, start_response)
        try:
            sent = _Sent(environ["wsgi.input"], self.turn)
            return self.application({**environ, "wsgi.input": sent}, start_response)
        finally:
            self.turn.lock.release()
