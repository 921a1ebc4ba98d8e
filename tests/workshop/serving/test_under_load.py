"""The real server with many tablets at once: one key once, no lock that fails, a stop in time."""

import json
import os
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
import urllib.request
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from threading import Barrier, Event
from typing import Any, TypeVar

import pytest

from tests.house.sources import ROOT
from tests.running import READY, Running, manage, running_server
from tests.soak_tablets import ITEM, Line, Lost, open_jobs, trusted_in
from tests.workshop.serving.told_finished import MARKS_VARIABLE
from workshop.backups import shelf
from workshop.serving.data_folder import DATABASE_NAME

T = TypeVar("T")
AT_ONCE = 24
ROUNDS = 12
STOPPED_WITHIN_S = 10
COUNT = 'SELECT count(*) FROM jobs_entry WHERE "key" = ?'


@contextmanager
def serving(invented: Path, folder: Path) -> Iterator[Running]:
    """Serve a copy over https."""
    shutil.copytree(invented, folder)
    with running_server(folder, "--https", "--https-port", "0") as running:
        yield running


@pytest.fixture(scope="module")
def shop(invented: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with serving(invented, tmp_path_factory.mktemp("load") / "data") as running:
        yield running


def a_line(shop: Running, name: str = "Aster") -> Line:
    """Sign somebody on at a tablet of their own, on a network that loses nothing."""
    line = Line(shop.address, random.Random(1), trusted_in(shop.folder))  # noqa: S311
    line.sign_on(name)
    line.sound = True
    return line


def note(job: str, words: str, **more: Any) -> dict[str, Any]:
    entry = {"key": str(uuid.uuid4()), "job": job, "kind": "value", "item": ITEM, "value": words}
    return {**entry, **more}


def post(line: Line, body: object) -> tuple[int, dict[str, Any]]:
    status, text, _ = line.ask("POST", "/entries/", json.dumps(body), "application/json")
    said: dict[str, Any] = json.loads(text)
    return status, said


def all_at_once(number: int, work: Callable[[int], T]) -> list[T]:
    """Do some work in so many threads, begun together."""
    begin = Barrier(number)

    def one(place: int) -> T:
        begin.wait()
        return work(place)

    with ThreadPoolExecutor(number) as pool:
        return list(pool.map(one, range(number)))


def rows_of(shop: Running, key: str) -> int:
    """Count the entries of a key, as another process that only reads."""
    place = f"file:{shop.folder / DATABASE_NAME}?mode=ro"
    with closing(sqlite3.connect(place, uri=True)) as link:
        (count,) = link.execute(COUNT, (uuid.UUID(key).hex,)).fetchone()
    return int(count)


def test_one_key_sent_at_once_by_many_is_one_entry_with_one_answer(shop: Running) -> None:
    line = a_line(shop)
    entry = note(open_jobs(line)[0], "sent by many")
    line.sound = True
    heard = all_at_once(AT_ONCE, lambda _place: post(line, entry))
    assert [status for status, _ in heard] == [200] * AT_ONCE
    answers = [said["answers"] for _, said in heard]
    assert answers == [answers[0]] * AT_ONCE
    assert answers[0][0]["verdict"] == "applied"
    assert rows_of(shop, entry["key"]) == 1
    status, said = post(line, {**entry, "value": "something else"})
    assert (status, said["answers"][0]["verdict"]) == (409, "conflict")
    assert rows_of(shop, entry["key"]) == 1


@pytest.mark.parametrize("key", [None, "", "1", "no-key", "5F0C9B1E-8A55-4C5B-9B62-0D9C7E4A11F3"])
def test_an_entry_without_a_proper_key_is_refused(shop: Running, key: str | None) -> None:
    line = a_line(shop)
    job = open_jobs(line)[0]
    line.sound = True
    entry = note(job, "without a key")
    if key is None:
        del entry["key"]
    else:
        entry["key"] = key
    status, said = post(line, entry)
    assert (status, said["answers"][0]["verdict"]) == (400, "refused")
    assert said["answers"][0]["reasons"][0]["params"]["path"] == "entries.0.key"


def test_reading_and_then_writing_at_once_never_finds_the_database_locked(shop: Running) -> None:
    lines = [a_line(shop, name) for name in ("Aster", "Munk") for _ in range(4)]
    jobs = open_jobs(lines[0])
    lines[0].sound = True

    def work(place: int) -> list[tuple[int, str]]:
        line, found = lines[place], []
        for number in range(ROUNDS):
            job = jobs[(place + number) % len(jobs)]
            # The page reads; the door reads the whole record and writes entry, head and verdict.
            page, _, _ = line.ask("GET", f"/jobs/{job}/intake/")
            status, said = post(line, note(job, f"{place}.{number}"))
            found.append((page, f"{status} {said['answers'][0]['verdict']}"))
        return found

    heard = all_at_once(len(lines), work)
    assert {each for one in heard for each in one} == {(200, "200 applied")}


def test_it_stops_in_time_under_load_and_loses_nothing_it_acknowledged(
    invented: Path, tmp_path: Path
) -> None:
    with serving(invented, tmp_path / "data") as shop:
        lines = [a_line(shop, name) for name in ("Aster", "Munk") for _ in range(3)]
        jobs, over = open_jobs(lines[0]), Event()
        lines[0].sound = True
        idle = [line.connection() for line in lines[:3]]
        for each in idle:
            each.request("GET", "/start/")
            each.getresponse().read()

        def work(place: int) -> list[str]:
            acknowledged = []
            while not over.is_set():
                entry = note(jobs[place % len(jobs)], "while it stops")
                with suppress(Lost, ValueError, KeyError):
                    if post(lines[place], entry)[1]["answers"][0]["verdict"] == "applied":
                        acknowledged.append(entry["key"])
            return acknowledged

        with ThreadPoolExecutor(len(lines)) as pool:
            working = [pool.submit(work, place) for place in range(len(lines))]
            time.sleep(2)
            began = time.monotonic()
            assert shop.stop(signal.SIGTERM) == 0
            lasted_s = time.monotonic() - began
            over.set()
            acknowledged = [key for each in working for key in each.result()]
        for each in idle:
            each.close()
    assert lasted_s < STOPPED_WITHIN_S
    assert len(acknowledged) > len(lines)
    assert [rows_of(shop, key) for key in acknowledged] == [1] * len(acknowledged)


def test_after_a_restore_receipts_sent_again_are_recorded_exactly_once(
    invented: Path, tmp_path: Path
) -> None:
    """One entry is in the backup and one came after it; the tablet sends both again."""
    folder = tmp_path / "data"
    with serving(invented, folder) as shop:
        line = a_line(shop)
        job = open_jobs(line)[0]
        line.sound = True
        held, lost = note(job, "in the backup"), note(job, "after the backup")
        _, before = post(line, held)
        with manage(folder, "backup") as backup:
            backup.communicate()
        post(line, lost)
    assert [rows_of(shop, entry["key"]) for entry in (held, lost)] == [1, 1]
    (kept,) = shelf.kept_in(folder / "backups")
    with manage(folder, "restore", str(kept.path), "--yes") as restoring:
        said, _ = restoring.communicate()
    assert restoring.returncode == 0, said
    assert [rows_of(shop, entry["key"]) for entry in (held, lost)] == [1, 0]
    with running_server(folder, "--https", "--https-port", "0") as again:
        line = a_line(again)
        status, after = post(line, {"entries": [held, lost]})
        assert (status, [each["verdict"] for each in after["answers"]]) == (200, ["applied"] * 2)
        assert after["answers"][0] == before["answers"][0]
        assert after["epoch"] not in {"", before["epoch"]}
    assert [rows_of(shop, entry["key"]) for entry in (held, lost)] == [1, 1]


UP = """
from workshop.serving import server
server.APPLICATION = "tests.workshop.serving.told_finished:application"
from django.core.management import execute_from_command_line
execute_from_command_line(["manage.py", "up", "--port", "0"])
"""


def test_each_request_is_ended_as_wsgi_asks(tmp_path: Path) -> None:
    """Without ``close()`` Django would never hear that a request is over.

    The server ends a request after the last byte of its answer has left, so that
    a client which has read everything may be a moment ahead of it.
    """
    marks, data = tmp_path / "marks", tmp_path / "data"
    marks.touch()
    data.mkdir()
    own = {"COLDBUS_DATA": str(data), "COLDBUS_OWN_PYTHON": "1"}
    env = {**os.environ, **own, MARKS_VARIABLE: str(marks), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        [sys.executable, "-c", UP], cwd=ROOT, env=env, stdout=subprocess.PIPE, text=True
    ) as process:
        try:
            ready = next(
                found for line in process.stdout or () if (found := READY.search(line)) is not None
            )
            page = urllib.request.urlopen(f"{ready[1]}start/").read().decode()  # noqa: S310
            [style] = re.findall(r'href="/(static/css/base[^"]*\.css)"', page)[:1]
            paths = ["start/", "sw.js", style, "start/", "coldbus.webmanifest"]
            for path in paths:
                urllib.request.urlopen(ready[1] + path).read()  # noqa: S310
            until = time.monotonic() + STOPPED_WITHIN_S
            while marks.read_text("ascii").count("e") <= len(paths) and time.monotonic() < until:
                time.sleep(0.02)
        finally:
            process.terminate()
            process.wait(timeout=STOPPED_WITHIN_S)
    assert marks.read_text("ascii").count("b") == len(paths) + 1
    assert marks.read_text("ascii").count("e") == len(paths) + 1
