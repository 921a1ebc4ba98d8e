"""A server that runs for months: a new address, a certificate that ends, and nothing lost."""

import random
import shutil
import signal
import ssl
import time
import urllib.parse
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from threading import Event, Thread

import pytest
from cryptography import x509

from tests.running import Running, running_server
from tests.soak_tablets import Line, Tablet, open_jobs, trusted_in
from tests.workshop.serving.test_under_load import rows_of
from workshop import clock
from workshop.serving.authority import keeping
from workshop.serving.authority.certificates import Signed, make_server
from workshop.serving.data_folder import AUTHORITY_KEY_NAME, AUTHORITY_NAME
from workshop.serving.renewal import AFTER_FAULT, LOOK_EVERY_S, Names, Renewal

NOW = clock.now()
OLD, NEW, HOST = "192.168.4.20", "192.168.4.77", "bench.local"
AWAY_WITHIN_S = 10.0
"""How long at most nobody is answered while one worker follows another [s]."""
SOON = keeping.RENEW_BEFORE - timedelta(days=1)


class Computer:
    """A computer whose addresses change, and what was renewed."""

    def __init__(self, folder: Path | None) -> None:
        self.names: Names = (OLD, HOST)
        self.renewed: list[Names] = []
        self.fault: Exception | None = None
        self.renewal = Renewal(folder, self.names, lambda: self.names, self.renew)

    def renew(self, names: Names) -> None:
        if self.fault is not None:
            raise self.fault
        self.renewed.append(names)
        if self.renewal.folder is not None:
            keeping.prepare(self.renewal.folder, names, NOW)

    def looks(self, times: int, now: datetime = NOW) -> list[bool]:
        return [self.renewal.is_due(now) for _ in range(times)]


def test_an_address_that_stays_is_answered_by_and_one_that_passes_is_not() -> None:
    computer = Computer(None)
    assert computer.looks(3) == [False] * 3
    computer.names = (OLD, NEW, HOST)
    assert computer.looks(1) == [False]
    computer.names = (OLD, HOST)
    assert computer.looks(3) == [False] * 3
    computer.names = (NEW, HOST)
    assert computer.looks(2) == [False, True]
    computer.renewal.do(NOW)
    # The former address stays: another computer's worry, and perhaps it comes back.
    assert computer.renewed == [(OLD, HOST, NEW)]
    assert computer.looks(3) == [False] * 3


def test_a_certificate_for_the_new_address_is_made_beside_the_server(tmp_path: Path) -> None:
    computer = Computer(tmp_path)
    keeping.prepare(tmp_path, computer.names, NOW)
    computer.names = (NEW, HOST)
    assert computer.looks(2) == [False, True]
    computer.renewal.do(NOW)
    told = keeping.told(tmp_path)
    assert told is not None
    assert told.names >= {OLD, NEW, HOST}


def test_a_certificate_that_ends_soon_is_due_where_it_can_be_made_anew(tmp_path: Path) -> None:
    computer = Computer(tmp_path)
    keeping.prepare(tmp_path, computer.names, NOW)
    ends = NOW + timedelta(days=397)
    assert computer.looks(1, ends - keeping.RENEW_BEFORE - timedelta(days=1)) == [False]
    assert computer.looks(1, ends - SOON) == [True]
    (tmp_path / AUTHORITY_KEY_NAME).unlink()
    assert computer.looks(1, ends - SOON) == [False]


def test_what_fails_is_said_and_tried_again_later_not_at_once(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    computer = Computer(tmp_path)
    keeping.prepare(tmp_path, computer.names, NOW)
    late = NOW + timedelta(days=396)
    computer.fault = OSError("no room")
    assert computer.looks(1, late) == [True]
    computer.renewal.do(late)
    assert "could not be made anew" in caplog.text
    assert computer.looks(2, late + AFTER_FAULT - timedelta(seconds=1)) == [False] * 2
    assert computer.looks(1, late + AFTER_FAULT) == [True]


# ---------------------------------------------------------------- the real server


@pytest.fixture
def shop(invented: Path, tmp_path: Path) -> Iterator[Running]:
    folder = Path(shutil.copytree(invented, tmp_path / "data"))
    with running_server(folder, "--https", "--https-port", "0") as running:
        yield running


def serial_of(shop: Running) -> int:
    """Ask the server for its certificate; 0 where it does not answer."""
    place = urllib.parse.urlsplit(shop.address)
    with suppress(OSError):
        pem = ssl.get_server_certificate((str(place.hostname), int(place.port or 0)), timeout=5)
        return x509.load_pem_x509_certificate(pem.encode()).serial_number
    return 0


def let_it_end_soon(shop: Running) -> None:
    """Put a certificate in place that the server's authority made a year ago."""
    authority = x509.load_pem_x509_certificate((shop.folder / AUTHORITY_NAME).read_bytes())
    key = keeping.read_key(shop.folder / AUTHORITY_KEY_NAME)
    assert key is not None
    old = make_server(Signed(authority, key), ("127.0.0.1",), NOW - timedelta(days=350))
    (shop.folder / keeping.SERVER_NAME).write_bytes(old.pem)
    (shop.folder / keeping.SERVER_KEY_NAME).write_bytes(old.key_pem)


def tablets_of(shop: Running) -> list[Tablet]:
    tablets = []
    for number, name in enumerate(("Aster", "Munk", "Aster")):
        chance = random.Random(number)  # noqa: S311 - names entries, no secret
        line = Line(shop.address, chance, trusted_in(shop.folder))
        line.sign_on(name)
        tablets.append(Tablet(line, open_jobs(line)))
        line.sound = True
    return tablets


def work_while(shop: Running, happens: Callable[[], float]) -> tuple[list[Tablet], float]:
    """Let tablets work while something happens; give them, drained, and how long that took."""
    tablets, over = tablets_of(shop), Event()
    threads = [Thread(target=each.work, args=(over, 0.05)) for each in tablets]
    for thread in threads:
        thread.start()
    try:
        time.sleep(1)
        lasted_s = happens()
        time.sleep(1)
    finally:
        over.set()
        for thread in threads:
            thread.join()
    for each in tablets:
        each.drain(time.monotonic() + 30)
    return tablets, lasted_s


def nothing_was_lost(shop: Running, tablets: list[Tablet]) -> None:
    made = [entry["key"] for each in tablets for entry in each.made]
    assert len(made) > len(tablets)
    assert [len(each.queue) for each in tablets] == [0] * len(tablets)
    assert [rows_of(shop, key) for key in made] == [1] * len(made)


def test_a_certificate_that_ends_soon_is_made_anew_under_load_and_no_entry_is_lost(
    shop: Running,
) -> None:
    before = serial_of(shop)

    def ends_soon() -> float:
        let_it_end_soon(shop)
        until = time.monotonic() + LOOK_EVERY_S + 30
        away_s, answered = 0.0, time.monotonic()
        while time.monotonic() < until:
            found = serial_of(shop)
            if found:
                away_s, answered = max(away_s, time.monotonic() - answered), time.monotonic()
            if found not in {0, before}:
                return away_s
            time.sleep(0.05)
        raise AssertionError("no other certificate was seen")

    tablets, away_s = work_while(shop, ends_soon)
    nothing_was_lost(shop, tablets)
    assert 0 < away_s < AWAY_WITHIN_S
    told = keeping.told(shop.folder)
    assert told is not None
    assert told.server_until is not None
    assert told.server_until - NOW > timedelta(days=390)
    assert tablets[0].line.ask("GET", "/jobs/")[0] == 200


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="this system knows no SIGHUP")
def test_a_server_told_to_begin_anew_keeps_both_doors_and_one_worker(shop: Running) -> None:
    def told_to() -> float:
        shop.process.send_signal(signal.SIGHUP)
        time.sleep(3)
        return 3.0

    tablets, _ = work_while(shop, told_to)
    nothing_was_lost(shop, tablets)
    children = Path(f"/proc/{shop.process.pid}/task/{shop.process.pid}/children")
    if children.exists():
        assert len(children.read_text().split()) == 1
    assert shop.stop() == 0
    said = "".join(shop.said)
    assert "Plain http" not in said
    assert said.count("Coldbus is ready") == 1
