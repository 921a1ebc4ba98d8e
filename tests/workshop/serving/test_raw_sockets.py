"""What no browser sends: both doors stay open for others, answer in time, and tell nothing."""

import socket
import ssl
import time
import urllib.parse
from collections.abc import Iterator
from contextlib import ExitStack, closing, suppress
from pathlib import Path

import pytest

from tests.running import Running, running_server
from tests.workshop.serving.test_https import START
from workshop.serving.data_folder import AUTHORITY_NAME

GOOD = b"GET /start/ HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n"
STALLED = 12
"""More than the server has threads."""
WITHIN_S, QUIET_S = 30.0, 1.0
"""How long an answer may take on a busy machine, and how long odd bytes are waited for [s]."""
HEAD = b"POST /entries/ HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
ODD = {
    "nothing": b"",
    "half a line": b"GET / HT",
    "bytes": bytes(range(256)) * 8,
    "http 0.9": b"GET /\r\n",
    "no host": b"GET /start/ HTTP/1.1\r\n\r\n",
    "two hosts": b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
    "odd method": b"B\xc3\xa9 / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    "connect": b"CONNECT 127.0.0.1:22 HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    "absolute": b"GET http://elsewhere.example/ HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    "percent": b"GET /%zz%c0%ae%c0%ae/%00 HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    "dots": b"GET /static/../../../etc/passwd HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    "long address": b"GET /" + b"a" * 1_000_000 + b" HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    "long header": b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: " + b"a" * 1_000_000 + b"\r\n\r\n",
    "many headers": b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n" + b"X: y\r\n" * 100_000 + b"\r\n",
    "folded header": b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: a\r\n b\r\n\r\n",
    "header with nul": b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: a\0b\r\n\r\n",
    "negative length": HEAD + b"Content-Length: -1\r\n\r\n{}",
    "huge length": HEAD + b"Content-Length: 99999999999999999999\r\n\r\n{}",
    "two lengths": HEAD + b"Content-Length: 2\r\nContent-Length: 5\r\n\r\n{}",
    "length and chunks": HEAD + b"Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
    "odd chunks": HEAD + b"Transfer-Encoding: chunked\r\n\r\nzz\r\n{}\r\n0\r\n\r\n",
    "huge chunk": HEAD + b"Transfer-Encoding: chunked\r\n\r\nffffffffffffffff\r\n{}",
    "odd coding": HEAD + b"Transfer-Encoding: xchunked\r\n\r\n{}",
    "pipelined": (b"GET /start/ HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n") * 50,
    "upgrade": b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nUpgrade: h2c\r\nConnection: Upgrade\r\n\r\n",
    "http 2": b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
}
TOLD_NOTHING = (b"Traceback", b"site-packages", b"root:x:", b'File "')


class Door:
    """One address of a server, spoken to in bytes."""

    def __init__(self, address: str, folder: Path) -> None:
        place = urllib.parse.urlsplit(address)
        self.at = (place.hostname or "", place.port or 0)
        self.trust = None
        if place.scheme == "https":
            self.trust = ssl.create_default_context(cafile=folder / AUTHORITY_NAME)

    def open(self) -> socket.socket:
        """Connect."""
        link = socket.create_connection(self.at, timeout=WITHIN_S)
        return (
            link if self.trust is None else self.trust.wrap_socket(link, server_hostname=self.at[0])
        )

    def ask(self, sent: bytes, quiet_s: float = WITHIN_S) -> bytes:
        """Send bytes, say that no more come, and give what is answered before it falls quiet."""
        until, heard = time.monotonic() + WITHIN_S, b""
        with closing(self.open()) as link, suppress(OSError):
            with suppress(OSError):
                link.sendall(sent)
                if self.trust is None:
                    link.shutdown(socket.SHUT_WR)
            link.settimeout(quiet_s)
            while time.monotonic() < until:
                piece = link.recv(65_536)
                if not piece:
                    break
                heard += piece
        return heard


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Running, dict[str, Door]]]:
    folder = tmp_path_factory.mktemp("raw")
    with running_server(folder, "--https", "--https-port", "0") as running:
        told = running.told(START)
        doors = {"https": Door(running.address, folder), "http": Door(told[1], folder)}
        yield running, doors


Shop = tuple[Running, dict[str, Door]]


@pytest.mark.parametrize("scheme", ["https", "http"])
@pytest.mark.parametrize("name", sorted(ODD))
def test_odd_bytes_are_answered_or_hung_up_on_and_hurt_nobody(
    shop: Shop, scheme: str, name: str
) -> None:
    running, doors = shop
    began = time.monotonic()
    heard = doors[scheme].ask(ODD[name], QUIET_S)
    assert time.monotonic() - began < WITHIN_S + 2
    assert not any(each in heard for each in TOLD_NOTHING), heard[:2000]
    assert b" 500 " not in heard.partition(b"\r\n")[0]
    assert b" 200 " in doors[scheme].ask(GOOD).partition(b"\r\n")[0]
    assert running.process.poll() is None


def test_a_request_after_a_lying_length_is_no_second_request(shop: Shop) -> None:
    # Plain http takes the chunks and reads on; nothing stands before it that could be deceived.
    after = b"GET /start/ HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
    lengths = b"Content-Length: %d\r\nTransfer-Encoding: chunked\r\n\r\n" % (5 + len(after))
    heard = shop[1]["https"].ask(HEAD + lengths + b"0\r\n\r\n" + after, QUIET_S)
    assert heard.count(b"HTTP/1.1 200") == 0


@pytest.mark.parametrize("scheme", ["https", "http"])
@pytest.mark.parametrize("what", ["body", "head", "answer"])
def test_stalled_tablets_hold_nobody_up(shop: Shop, scheme: str, what: str) -> None:
    door = shop[1][scheme]
    parts = {
        "body": HEAD + b"Content-Length: 1000\r\n\r\n{",
        "head": b"GET /start/ HTTP/1.1\r\nHost: 127",
        "answer": GOOD,
    }
    with ExitStack() as stack:
        for _ in range(STALLED):
            stack.enter_context(closing(door.open())).sendall(parts[what])
        time.sleep(0.5)
        began = time.monotonic()
        assert b" 200 " in door.ask(GOOD).partition(b"\r\n")[0]
        assert time.monotonic() - began < WITHIN_S
