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


def longest_job(tablet: Tablet) -> tuple[int, str]:
    """Give the number of entries and the page of the open job with the longest record."""
    _, page, _ = tablet.ask("GET", "/jobs/")
    found = []
    for job in sorted(set(re.findall(r'href="/jobs/([0-9a-f-]{36})/"', page))):
        _, _, path = tablet.ask("GET", f"/jobs/{job}/")
        _, record, _ = tablet.ask("GET", f"/jobs/{job}/record/")
        found.append((record.count("<tr>") - 1, path))
    return max(found)


def posting(tablet: Tablet, job: str) -> None:
    entry = {"key": str(uuid.uuid4()), "job": job, "kind": "value"}
    entry |= {"item": "intake.note", "value": "wet"}
    status, text, _ = tablet.ask("POST", "/entries/", json.dumps(entry), "application/json")
    assert (status, json.loads(text)["answers"][0]["verdict"]) == (200, "applied")


def test_posting_and_pages_stay_within_their_bounds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with (
        running_server(tmp_path / "data", "--demo") as shop,
        closing(Tablet(shop.address)) as tablet,
    ):
        tablet.sign_on("Aster")
        count, path = longest_job(tablet)
        job = path.split("/")[2]
        page = measured_ms(lambda: tablet.ask("GET", path), PAGES)
        lists = measured_ms(lambda: tablet.ask("GET", "/jobs/"), PAGES)
        posts = measured_ms(lambda: posting(tablet, job), POSTS)
        longer = measured_ms(lambda: tablet.ask("GET", path), PAGES)
    rows = {
        "posting an entry": posts,
        f"step page, {count} entries": page,
        f"step page, {count + POSTS} entries": longer,
        "Open jobs": lists,
        "bare durable insert, no HTTP": bare_floor_ms(tmp_path),
    }
    with capsys.disabled():
        for name, took in rows.items():
            sys.stdout.write(f"\n| {name} | {at(took, 0.5):.1f} | {at(took, 0.95):.1f} |")
    assert at(posts, 0.95) < POST_P95_MS
    assert at(page, 0.95) < PAGE_P95_MS
