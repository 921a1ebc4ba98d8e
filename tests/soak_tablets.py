"""Tablets on a bad network: each keeps what it has made until the server has answered it.

Here: the tablets, what the network does to them, and the server that is killed now and then.
What has to be true afterwards is asked by the tests that use this.
"""

import json
import os
import random
import re
import signal
import ssl
import time
import urllib.parse
import uuid
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException, HTTPSConnection
from http.cookies import SimpleCookie
from pathlib import Path
from threading import Event, Thread
from typing import Any

from tests.running import Running, running_server
from workshop.serving.data_folder import AUTHORITY_NAME

PIN = "2580"
PEOPLE = ("Aster", "Munk")
LOST_SHARE = 0.30
"""Share of the requests that get lost: half of them on the way there, half on the way back."""
AWAY_SHARE, AWAY_S = 0.03, (0.2, 2.0)
"""How often a tablet leaves the network after a request, and for how long [s]."""
PATIENCE_S = 10.0
DRAINED_WITHIN_S = 600.0
"""How long all tablets together may take to send what is left once the network is sound."""
BATCH = 20
ITEM = "intake.note"

Entry = dict[str, Any]


class Lost(Exception):
    """The network swallowed a request or its answer."""


def trusted_in(folder: Path) -> str:
    """Give the certificate of a shop's authority, of which a tablet has a copy; "" without one."""
    path = folder / AUTHORITY_NAME
    return path.read_text(encoding="ascii") if path.is_file() else ""


@dataclass
class Line:
    """A tablet's connection, which loses requests and answers on purpose."""

    address: str
    chance: random.Random
    trusted: str
    cookies: dict[str, str] = field(default_factory=dict)
    sound: bool = False

    def connection(self) -> HTTPConnection:
        """Open a connection; over https only the shop's own authority is trusted."""
        place = urllib.parse.urlsplit(self.address)
        if place.scheme == "http":
            return HTTPConnection(place.netloc, timeout=PATIENCE_S)
        trust = ssl.create_default_context(cadata=self.trusted)
        return HTTPSConnection(place.netloc, timeout=PATIENCE_S, context=trust)

    def headers(self, kind: str) -> dict[str, str]:
        """Give what a browser sends along."""
        token = next((text for name, text in self.cookies.items() if "csrf" in name), "")
        return {
            "Cookie": "; ".join(f"{name}={text}" for name, text in self.cookies.items()),
            "Content-Type": kind,
            "X-CSRFToken": token,
            "Origin": self.address.rstrip("/"),
        }

    def ask(self, method: str, path: str, body: str = "", kind: str = "") -> tuple[int, str, str]:
        """Send one request over a connection of its own; raise `Lost` where it got lost."""
        fate = 1.0 if self.sound else self.chance.random()
        if fate < LOST_SHARE / 2:
            raise Lost("on the way there")
        link = self.connection()
        try:
            link.request(method, path, body.encode(), self.headers(kind))
            answer = link.getresponse()
            text = answer.read().decode()
        except (OSError, HTTPException) as fault:
            raise Lost(str(fault)) from fault
        finally:
            link.close()
        if fate < LOST_SHARE:
            raise Lost("on the way back")
        for line in answer.headers.get_all("Set-Cookie") or []:
            for name, morsel in SimpleCookie(line).items():
                self.cookies[name] = morsel.value
        return answer.status, text, answer.headers.get("Location", "")

    def sign_on(self, short_name: str) -> None:
        """Sign on by tile and PIN; the network is sound meanwhile."""
        self.sound = True
        _, _, where = self.ask("GET", "/")
        _, page, _ = self.ask("GET", where)
        before = page[: page.index(f'<span class="tile-name">{short_name}</span>')]
        person = before.rpartition('href="')[2].partition('"')[0].replace("&amp;", "&")
        self.ask("GET", person)
        form = urllib.parse.urlencode({"pin": PIN, "next": "/"})
        status, _, _ = self.ask("POST", person, form, "application/x-www-form-urlencoded")
        assert status == 302
        self.sound = False


@dataclass
class Tablet:
    """One tablet: makes entries, keeps them in order, sends until each is answered for good."""

    line: Line
    jobs: list[str]
    device: str = field(default_factory=lambda: str(uuid.uuid4()))
    queue: deque[Entry] = field(default_factory=deque)
    made: list[Entry] = field(default_factory=list)
    acknowledged: list[str] = field(default_factory=list)
    refused: list[tuple[Entry, Entry]] = field(default_factory=list)
    """What was refused, with the answer to it."""
    lost: int = 0

    def make(self) -> None:
        """Write an entry down, as the page does before it sends."""
        number = len(self.made) + 1
        entry: Entry = {
            "key": str(uuid.UUID(int=self.line.chance.getrandbits(128), version=4)),
            "job": self.line.chance.choice(self.jobs),
            "kind": "value",
            "item": ITEM,
            "qualifier": "",
            "value": f"note {number} of tablet {self.device[:8]}",
            "device": self.device,
            "device_seq": number,
            "tablet_time": "2026-03-02T09:00:00+00:00",
        }
        self.made.append(entry)
        self.queue.append(entry)

    def _answers_to(self, batch: list[Entry]) -> list[Entry]:
        body = {"format": 2, "device": self.device, "made": len(self.made), "entries": batch}
        status, text, _ = self.line.ask("POST", "/entries/", json.dumps(body), "application/json")
        if status >= 500:
            # The disk has gone: that answers nothing, so everything is kept.
            raise Lost(f"answered with {status}")
        try:
            answers: list[Entry] = json.loads(text)["answers"]
        except (ValueError, KeyError) as fault:
            raise Lost(f"answered by something else: {text[:80]}") from fault
        return answers

    def send(self) -> None:
        """Send what waits and take off the queue what was answered for good."""
        batch = [self.queue[place] for place in range(min(BATCH, len(self.queue)))]
        try:
            told = {answer["key"]: answer for answer in self._answers_to(batch)}
        except Lost:
            self.lost += 1
            return
        verdicts = {key: answer["verdict"] for key, answer in told.items()}
        self.acknowledged += [key for key, verdict in verdicts.items() if verdict == "applied"]
        self.refused += [
            (one, told.get(one["key"], {}))
            for one in batch
            if verdicts.get(one["key"]) not in {"applied", "later"}
        ]
        taken = set(self.acknowledged)
        self.queue = deque(one for one in self.queue if one["key"] not in taken)

    def work(self, stop: Event, pause_s: float) -> None:
        """Make and send until told to stop; be away from the network now and then."""
        while not stop.is_set():
            self.make()
            self.send()
            away = self.line.chance.random() < AWAY_SHARE
            time.sleep(self.line.chance.uniform(*AWAY_S) if away else pause_s)

    def drain(self, until: float) -> None:
        """Send what is left, as when the tablet is back in the shop."""
        while self.queue and time.monotonic() < until:
            self.send()


def processes_of(parent: int) -> Iterator[int]:
    """Name a process and all that it started, its children first."""
    for folder in Path("/proc").glob("[0-9]*"):
        with suppress(OSError, ValueError):
            stat = (folder / "stat").read_text()
            if int(stat.rpartition(")")[2].split()[1]) == parent:
                yield from processes_of(int(folder.name))
    yield parent


def kill(running: Running) -> None:
    """End the server at once, its worker with it, as a power cut would."""
    for number in list(processes_of(running.process.pid)):
        with suppress(ProcessLookupError):
            os.kill(number, signal.SIGKILL)
    running.process.wait()


@dataclass
class Soaked:
    """What became of a soak: the tablets and how often the server was killed."""

    tablets: list[Tablet]
    kills: int


def open_jobs(line: Line) -> list[str]:
    """Name the open jobs of the shop."""
    line.sound = True
    _, page, _ = line.ask("GET", "/jobs/")
    line.sound = False
    return sorted(set(re.findall(r'href="/jobs/([0-9a-f-]{36})/"', page)))


def soak(  # noqa: PLR0913 - each is one thing about a soak
    folder: Path,
    *,
    tablets: int,
    lasting_s: float,
    kills: int,
    pause_s: float,
    also: Mapping[str, str] | None = None,
    end: Callable[[Running], None] = kill,
) -> Soaked:
    """Let tablets work on a shop whose server is killed in between, then let them drain.

    Parameters
    ----------
    folder : Path
        Data folder of the shop.
    tablets : int
        How many.
    lasting_s : float
        How long they work [s].
    kills : int
        How often the server is killed meanwhile.
    pause_s : float
        Pause of a tablet between two entries [s].
    also : Mapping[str, str] | None
        Further settings of the server.
    end : Callable[[Running], None]
        How it is ended; killed as a rule.

    Returns
    -------
    Soaked
        The tablets with what they made and what was acknowledged.
    """
    working: list[Tablet] = []
    threads: list[Thread] = []
    stop = Event()
    try:
        _rounds(
            _Plan(folder, tablets, lasting_s, kills, pause_s, also, end), working, threads, stop
        )
    finally:
        stop.set()
    return Soaked(working, kills)


@dataclass(frozen=True)
class _Plan:
    folder: Path
    tablets: int
    lasting_s: float
    kills: int
    pause_s: float
    also: Mapping[str, str] | None
    end: Callable[[Running], None]


def _rounds(plan: _Plan, working: list[Tablet], threads: list[Thread], stop: Event) -> None:
    chance, port = random.Random(20), "0"  # noqa: S311 - the network's fate, not a secret
    options = ("--demo", "--https", "--https-port")
    for round_number in range(plan.kills + 1):
        with running_server(plan.folder, *options, port, also=plan.also) as shop:
            if not working:
                port = str(urllib.parse.urlsplit(shop.address).port)
                working += [_a_tablet(shop, number) for number in range(plan.tablets)]
                threads += [Thread(target=one.work, args=(stop, plan.pause_s)) for one in working]
                for thread in threads:
                    thread.start()
            time.sleep(plan.lasting_s / (plan.kills + 1) * chance.uniform(0.8, 1.2))
            if round_number < plan.kills:
                plan.end(shop)
                continue
            stop.set()
            for thread in threads:
                thread.join()
            until = time.monotonic() + DRAINED_WITHIN_S
            for one in working:
                one.line.sound = True
                one.drain(until)


def _a_tablet(shop: Running, number: int) -> Tablet:
    chance = random.Random(number)  # noqa: S311 - as above
    line = Line(shop.address, chance, trusted_in(shop.folder))
    line.sign_on(PEOPLE[number % len(PEOPLE)])
    return Tablet(line, open_jobs(line))
