"""Twenty tablets and two managers at work on a shop: what each request takes, and the memory.

Run as a program it measures a shop that was filled before:
``python -m tests.bench.load FOLDER [ADDRESS OF A POSTGRESQL DATABASE]``.
"""

import json
import os
import re
import subprocess
import sys
import time
import uuid
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from http.client import HTTPConnection
from pathlib import Path
from threading import Thread

from tests.bench.test_posting_and_pages import Tablet, at, measured_ms
from tests.house.sources import ROOT
from tests.running import Running, running_server
from tests.soak_tablets import processes_of
from workshop.serving.server import choose_port

TABLETS, MANAGERS = 20, 2
POST_EVERY_S, PAGE_EVERY_S, LIST_EVERY_S = 1.0, 10.0, 5.0
WARM_S = 10.0
"""What is not counted at the beginning: 22 people sign on, and each job is folded once [s]."""
TECHNICIANS, MANAGER = ("Aster", "Munk", "Pell"), "Thorne"
STEP = "module_swap"
ALONE = 200
KB_IN_MB = 1024

Also = Mapping[str, str] | None


@dataclass
class Load:
    """What was measured once all were at work [ms], and the memory [MB]."""

    took_ms: dict[str, list[float]] = field(default_factory=dict)
    failed: list[str] = field(default_factory=list)
    memory_mb: float = 0.0
    counted_from: float = 0.0

    def timed(self, name: str, act: Callable[[], object]) -> None:
        """Do something and note how long it took, or that it failed."""
        before = time.perf_counter()
        try:
            act()
        except (AssertionError, OSError) as fault:
            self.failed.append(f"{name}: {fault!r}")
        if before >= self.counted_from:
            self.took_ms.setdefault(name, []).append((time.perf_counter() - before) * 1000)

    def p(self, name: str, share: float) -> float:
        """Give a share of the times of one kind, as 0.95 for p95."""
        return at(sorted(self.took_ms[name]), share)

    def row(self, closed: int) -> str:
        """Write what was measured as a row of a table: p50 / p95 / p99 of each, and the memory."""
        told = " | ".join(
            " / ".join(f"{self.p(name, share):.1f}" for share in (0.5, 0.95, 0.99))
            for name in ("post", "step page", "Open jobs")
        )
        return f"| {closed} | {told} | {self.memory_mb:.0f} |"


def _memory_mb(running: Running) -> float:
    """Add up what the server's processes hold; pages that they share are counted once."""
    total_kb = 0
    for number in processes_of(running.process.pid):
        said = Path(f"/proc/{number}/smaps_rollup").read_text(encoding="ascii")
        total_kb += int(re.search(r"^Pss:\s+(\d+)", said, re.MULTILINE)[1])  # type: ignore[index]
    return total_kb / KB_IN_MB


def _page(tablet: Tablet, path: str) -> None:
    status, _, where = tablet.ask("GET", path)
    assert status == 200, (status, where)


def _post(tablet: Tablet, job: str) -> None:
    entry = {"key": str(uuid.uuid4()), "job": job, "kind": "value"}
    entry |= {"item": "intake.note", "value": "wet"}
    status, text, _ = tablet.ask("POST", "/entries/", json.dumps(entry), "application/json")
    assert (status, json.loads(text)["answers"][0]["verdict"]) == (200, "applied")


def _every(pause_s: float, first_s: float, until: float, act: Callable[[], object]) -> None:
    """Do something at an even pace, whatever it takes."""
    due = time.monotonic() + first_s
    while due < until:
        time.sleep(max(0.0, due - time.monotonic()))
        act()
        due += pause_s


@contextmanager
def _signed_on(address: str, name: str) -> Iterator[Tablet]:
    with closing(Tablet(address)) as tablet:
        tablet.sign_on(name)
        yield tablet


def _technician(load: Load, address: str, number: int, job: str, until: float) -> None:
    with _signed_on(address, TECHNICIANS[number % len(TECHNICIANS)]) as tablet:
        count = 0

        def act() -> None:
            nonlocal count
            load.timed("post", lambda: _post(tablet, job))
            count += 1
            if (count + number) % (PAGE_EVERY_S / POST_EVERY_S) == 0:
                load.timed("step page", lambda: _page(tablet, f"/jobs/{job}/{STEP}/"))

        _every(POST_EVERY_S, number / TABLETS, until, act)


def _manager(load: Load, address: str, number: int, until: float) -> None:
    with _signed_on(address, MANAGER) as tablet:
        first_s = LIST_EVERY_S * number / MANAGERS
        _every(
            LIST_EVERY_S,
            first_s,
            until,
            lambda: load.timed("Open jobs", lambda: _page(tablet, "/jobs/")),
        )


def copies(address: str) -> list[str]:
    """Name the open jobs that were copied into the shop."""
    with _signed_on(address, MANAGER) as tablet:
        _, page, _ = tablet.ask("GET", "/jobs/?q=V0")
    return sorted(set(re.findall(r'href="/jobs/([0-9a-f-]{36})/"', page)))


def loaded(folder: Path, *, lasting_s: float, also: Also = None) -> Load:
    """Let tablets and managers work on a shop that was filled before.

    Parameters
    ----------
    folder : Path
        Data folder of the shop.
    lasting_s : float
        For how long, after they have begun [s].
    also : Mapping[str, str] | None
        Further settings of the server, such as where its database is.

    Returns
    -------
    Load
        What was measured; what failed is part of it.
    """
    load = Load()
    with running_server(folder, also=also) as shop:
        jobs = copies(shop.address)
        until = time.monotonic() + WARM_S + lasting_s
        load.counted_from = time.perf_counter() + WARM_S
        threads = [
            Thread(target=_technician, args=(load, shop.address, n, jobs[n % len(jobs)], until))
            for n in range(TABLETS)
        ]
        threads += [
            Thread(target=_manager, args=(load, shop.address, n, until)) for n in range(MANAGERS)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        load.memory_mb = _memory_mb(shop)
    return load


def alone_ms(folder: Path, also: Also = None) -> list[float]:
    """Give what posting takes where nobody else asks anything."""
    with running_server(folder, also=also) as shop:
        job = copies(shop.address)[0]
        with _signed_on(shop.address, TECHNICIANS[0]) as tablet:
            measured_ms(lambda: _post(tablet, job), ALONE // 4)
            return measured_ms(lambda: _post(tablet, job), ALONE)


def floor_ms(folder: Path, also: Also = None) -> list[float]:
    """Give what an empty view with one durable insert takes, on the same server."""
    folder.mkdir(exist_ok=True)
    port = choose_port("127.0.0.1", 0)
    inherited = {name: text for name, text in os.environ.items() if "COLDBUS" not in name}
    own = {"COLDBUS_DATA": str(folder), **(also or {})}
    command = [sys.executable, "-m", "tests.bench.bare_floor", str(port)]
    with subprocess.Popen(command, env={**inherited, **own}, cwd=ROOT) as server:
        try:
            return _floor_asked(port)
        finally:
            server.terminate()


def _floor_asked(port: int) -> list[float]:
    link = HTTPConnection("127.0.0.1", port, timeout=20)
    for _ in range(200):
        try:
            link.connect()
            break
        except OSError:
            time.sleep(0.05)

    def ask() -> None:
        link.request("POST", "/entries/", "x" * 600, {"Content-Type": "text/plain"})
        answer = link.getresponse()
        assert b"applied" in answer.read()

    measured_ms(ask, ALONE // 4)
    return measured_ms(ask, ALONE)


def main(folder: Path, also: Also) -> None:
    """Measure one shop and print its row."""
    alone, floor = alone_ms(folder, also), floor_ms(folder / "floor", also)
    ratio = at(alone, 0.5) / at(floor, 0.5)
    sys.stdout.write(f"post alone {at(alone, 0.5):.2f} / {at(alone, 0.95):.2f}; ")
    sys.stdout.write(f"floor {at(floor, 0.5):.2f} / {at(floor, 0.95):.2f}; ratio {ratio:.2f}\n")
    load = loaded(folder, lasting_s=45, also=also)
    sys.stdout.write(load.row(0) + f" failed: {load.failed[:3]}\n")


if __name__ == "__main__":
    address = sys.argv[2] if len(sys.argv) > len(("program", "folder")) else ""
    main(Path(sys.argv[1]), {"COLDBUS_DATABASE_URL": address} if address else None)
