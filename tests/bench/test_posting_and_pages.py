"""What posting an entry and rendering a step page cost, over HTTP on a server of its own.

Prints the table that stands in DEVELOPERS.md: p50 and p95 in milliseconds, and the ratio of a
posted entry to the bare floor (one durable insert with the same settings).
"""

import json
import re
import sqlite3
import sys
import time
import urllib.parse
import uuid
from collections.abc import Callable
from contextlib import closing
from http.client import HTTPConnection
from http.cookies import SimpleCookie
from pathlib import Path

import pytest

from tests.running import running_server

pytestmark = pytest.mark.bench

PIN = "2580"
POSTS = 300
PAGES = 100
POST_P95_MS = 40.0
PAGE_P95_MS = 80.0


class Tablet:
    """One kept connection with its cookies."""

    def __init__(self, address: str) -> None:
        self.link = HTTPConnection(urllib.parse.urlsplit(address).netloc, timeout=20)
        self.cookies: dict[str, str] = {}

    def close(self) -> None:
        self.link.close()

    def ask(self, method: str, path: str, body: str = "", kind: str = "") -> tuple[int, str, str]:
        headers = {"Cookie": "; ".join(f"{name}={text}" for name, text in self.cookies.items())}
        headers |= {"Content-Type": kind, "X-CSRFToken": self.cookies.get("coldbus_csrf", "")}
        self.link.request(method, path, body.encode(), headers)
        answer = self.link.getresponse()
        text = answer.read().decode()
        for line in answer.headers.get_all("Set-Cookie") or []:
            for name, morsel in SimpleCookie(line).items():
                self.cookies[name] = morsel.value
        return answer.status, text, answer.headers.get("Location", "")

    def sign_on(self, short_name: str) -> None:
        _, _, where = self.ask("GET", "/")
        _, page, _ = self.ask("GET", where)
        before = page[: page.index(f'<span class="tile-name">{short_name}</span>')]
        person = before.rpartition('href="')[2].partition('"')[0].replace("&amp;", "&")
        self.ask("GET", person)
        form = urllib.parse.urlencode({"pin": PIN, "next": "/"})
        status, _, _ = self.ask("POST", person, form, "application/x-www-form-urlencoded")
        assert status == 302


def measured_ms(act: Callable[[], object], times: int) -> list[float]:
    took = []
    for _ in range(times):
        before = time.perf_counter()
        act()
        took.append((time.perf_counter() - before) * 1000)
    return sorted(took)


def at(took: list[float], share: float) -> float:
    return took[int(share * (len(took) - 1))]


def bare_floor_ms(folder: Path) -> list[float]:
    floor = sqlite3.connect(folder / "floor.sqlite3", isolation_level=None)
    floor.execute("PRAGMA journal_mode=WAL")
    floor.execute("PRAGMA synchronous=FULL")
    floor.execute("CREATE TABLE line (key TEXT PRIMARY KEY, bytes BLOB)")
    insert = "INSERT INTO line VALUES (?, ?)"
    took = measured_ms(lambda: floor.execute(insert, (str(uuid.uuid4()), b"x" * 600)), POSTS)
    floor.close()
    return took


def test_posting_and_pages_stay_within_their_bounds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with (
        running_server(tmp_path / "data", "--demo") as shop,
        closing(Tablet(shop.address)) as tablet,
    ):
        tablet.sign_on("Aster")
        _, page, _ = tablet.ask("GET", "/jobs/")
        jobs = set(re.findall(r'href="/jobs/([0-9a-f-]{36})/"', page))
        longest, page_path = 0, ""
        for job in sorted(jobs):
            _, _, path = tablet.ask("GET", f"/jobs/{job}/")
            _, record, _ = tablet.ask("GET", f"/jobs/{job}/record/")
            if path and record.count("<tr>") > longest:
                longest, page_path = record.count("<tr>"), path
        job = page_path.split("/")[2]

        def post() -> None:
            entry = {"key": str(uuid.uuid4()), "job": job, "kind": "value"}
            entry |= {"item": "intake.note", "value": "wet"}
            status, text, _ = tablet.ask("POST", "/entries/", json.dumps(entry), "application/json")
            assert (status, json.loads(text)["answers"][0]["verdict"]) == (200, "applied")

        rows = {
            f"step page, {longest} entries": measured_ms(
                lambda: tablet.ask("GET", page_path), PAGES
            ),
            "Open jobs": measured_ms(lambda: tablet.ask("GET", "/jobs/"), PAGES),
            "posting an entry": measured_ms(post, POSTS),
            f"step page, {longest + POSTS} entries": measured_ms(
                lambda: tablet.ask("GET", page_path), PAGES
            ),
        }
    floor = bare_floor_ms(tmp_path)
    lines = [
        f"| {name} | {at(took, 0.5):.1f} | {at(took, 0.95):.1f} |" for name, took in rows.items()
    ]
    lines.append(f"| bare durable insert | {at(floor, 0.5):.2f} | {at(floor, 0.95):.2f} |")
    with capsys.disabled():
        sys.stdout.write("\n" + "\n".join(lines) + "\n")
    assert at(rows["posting an entry"], 0.95) < POST_P95_MS
    assert at(rows[f"step page, {longest} entries"], 0.95) < PAGE_P95_MS
