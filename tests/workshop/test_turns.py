"""One request computes at a time, and nobody's slow network or error keeps the others."""

import threading
import time
from collections.abc import Callable, Iterable
from io import BytesIO
from typing import Any

import pytest
from typing_extensions import override

from workshop import turns
from workshop.turns import InTurn

TOGETHER_S = 0.02
PATIENCE_S = 20.0


def answer(application: Callable[..., Iterable[bytes]], sent: Any = None) -> bytes:
    return b"".join(application({"wsgi.input": sent or BytesIO()}, None))


def at_once(*acts: Callable[[], object]) -> list[threading.Thread]:
    threads = [threading.Thread(target=act, daemon=True) for act in acts]
    for thread in threads:
        thread.start()
    return threads


class Counting:
    """Counts how many compute at once."""

    def __init__(self) -> None:
        self.now = 0
        self.most = 0
        self.lock = threading.Lock()

    def __call__(self, environ: dict[str, Any], _: Any) -> list[bytes]:
        environ["wsgi.input"].read()
        with self.lock:
            self.now += 1
            self.most = max(self.most, self.now)
        time.sleep(TOGETHER_S)
        with self.lock:
            self.now -= 1
        return [b"done"]


class Stalled(BytesIO):
    """A tablet of which nothing comes until it is back in the network."""

    def __init__(self) -> None:
        super().__init__(b"wet")
        self.asked = threading.Event()
        self.back = threading.Event()

    @override
    def read(self, *_: Any) -> bytes:
        self.asked.set()
        self.back.wait(PATIENCE_S)
        return super().read()


def test_one_request_computes_at_a_time() -> None:
    application = Counting()
    in_turn = InTurn(application)
    for thread in at_once(*[lambda: answer(in_turn)] * 6):
        thread.join()
    assert application.most == 1


def test_who_waits_for_a_slow_network_lets_the_others_go(monkeypatch: pytest.MonkeyPatch) -> None:
    # Whoever had to wait for the stalled one would wait longer than this test.
    monkeypatch.setattr(turns, "WAIT_S", 4 * PATIENCE_S)
    in_turn, stalled, got = InTurn(Counting()), Stalled(), list[bytes]()
    (slow,) = at_once(lambda: got.append(answer(in_turn, stalled)))
    assert stalled.asked.wait(PATIENCE_S)
    (quick,) = at_once(lambda: answer(in_turn))
    quick.join(PATIENCE_S / 2)
    assert not quick.is_alive()
    assert got == []
    stalled.back.set()
    slow.join(PATIENCE_S)
    assert got == [b"done"]


@pytest.mark.parametrize(
    ("read", "expected"),
    [
        (lambda sent: sent.read(3), b"one"),
        (lambda sent: sent.readline(), b"one\n"),
        (lambda sent: sent.readline(2), b"on"),
        (lambda sent: b"|".join(sent.readlines()), b"one\n|two"),
        (b"|".join, b"one\n|two"),
    ],
    ids=["read", "line", "part of a line", "lines", "one by one"],
)
def test_what_was_sent_reads_as_it_did(read: Callable[[Any], bytes], expected: bytes) -> None:
    in_turn = InTurn(lambda environ, _: [read(environ["wsgi.input"])])
    assert answer(in_turn, BytesIO(b"one\ntwo")) == expected
    assert not in_turn.turn.lock.locked()


def test_who_waited_long_enough_goes_on_beside(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(turns, "WAIT_S", 0.05)
    in_turn = InTurn(Counting())
    with in_turn.turn.lock:
        assert answer(in_turn) == b"done"
        assert in_turn.turn.lock.locked()


def test_an_error_gives_the_turn_back() -> None:
    def broken(*_: Any) -> list[bytes]:
        raise ValueError("broken")

    in_turn = InTurn(broken)
    with pytest.raises(ValueError, match="broken"):
        answer(in_turn)
    assert not in_turn.turn.lock.locked()


def test_an_error_of_the_network_gives_the_turn_back() -> None:
    class Gone(BytesIO):
        @override
        def read(self, *_: Any) -> bytes:
            raise OSError("connection lost")

    in_turn = InTurn(Counting())
    with pytest.raises(OSError, match="connection lost"):
        answer(in_turn, Gone())
    assert not in_turn.turn.lock.locked()
