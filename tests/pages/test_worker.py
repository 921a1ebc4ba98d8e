"""What the tablet's browser asks for before anybody signs on: the worker, the manifest, a page."""

import base64
import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from jobs.steps import STEPS
from jobs.views import worker

pytestmark = pytest.mark.django_db
STATIC = Path(settings.BASE_DIR) / "static"
OWN = {
    path.relative_to(STATIC).as_posix()
    for pattern in ("js/**/*.js", "css/**/*.css", "img/**/*.svg")
    for path in STATIC.glob(pattern)
}


@pytest.fixture(autouse=True)
def read_anew() -> Iterator[None]:
    """Let no test see what another has made the worker of."""
    caches = (worker.shell, worker.script)
    for each in caches:
        each.cache_clear()
    yield
    for each in caches:
        each.cache_clear()


def told() -> dict[str, Any]:
    """Give what the server puts before the worker's script."""
    first, _, rest = Client().get("/sw.js").content.decode().partition(";\n")
    assert rest == (STATIC / "js" / "sw.js").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(first.removeprefix("self.COLDBUS = "))
    return found


def test_the_worker_is_a_script_that_browsers_ask_for_anew_each_time() -> None:
    answer = Client().get("/sw.js")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "text/javascript; charset=utf-8"
    assert answer.headers["Cache-Control"] == "no-cache"
    assert answer.headers["X-Coldbus"] == "1"
    assert Client().post("/sw.js").status_code == 405


def test_the_worker_knows_every_step_and_every_file_by_its_digest() -> None:
    found = told()
    assert found["steps"] == [step.slug for step in STEPS]
    assert (found["static"], found["notReachable"]) == ("/static/", "/not-reachable/")
    shell = dict(found["shell"])
    own = {name for name in OWN if name != "js/sw.js"}
    assert shell.keys() == {f"/static/{name}" for name in own} | {
        f"/static/{name}" for name in worker.OF_PACKAGES
    }
    for name in own:
        digest = base64.b64encode(hashlib.sha256((STATIC / name).read_bytes()).digest()).decode()
        assert shell[f"/static/{name}"] == f"sha256-{digest}"


def test_a_changed_file_makes_another_worker(monkeypatch: pytest.MonkeyPatch) -> None:
    before, real = told(), worker.served
    worker.shell.cache_clear()
    worker.script.cache_clear()
    changed = "css/base.css"
    monkeypatch.setattr(
        worker, "served", lambda name: real(name) + (b"/* */" if name == changed else b"")
    )
    after = told()
    assert before["release"] != after["release"]
    assert len(after["release"]) == len(before["release"]) == 12
    different = [one for one, other in zip(before["shell"], after["shell"], strict=True)
                 if one != other]  # fmt: skip
    assert [address for address, _ in different] == [f"/static/{changed}"]


def test_the_manifest_says_how_the_pages_stand_on_a_home_screen() -> None:
    answer = Client().get("/coldbus.webmanifest")
    assert answer.headers["Content-Type"] == "application/manifest+json"
    said = answer.json()
    assert (said["id"], said["start_url"], said["scope"]) == ("/", "/", "/")
    assert (said["display"], said["name"]) == ("standalone", "Coldbus")
    [icon] = said["icons"]
    assert (STATIC / icon["src"].removeprefix("/static/")).is_file()
    page = Client().get("/start/").content.decode()
    assert '<link rel="manifest" href="/coldbus.webmanifest">' in page


def test_the_page_for_what_is_not_reachable_is_everybodys_and_names_nobody() -> None:
    answer = Client().get("/not-reachable/")
    assert (answer.status_code, answer.headers["X-Coldbus"]) == (200, "1")
    shown = answer.content.decode()
    assert "coldbus-tablet" not in shown
    assert "Signed on" not in shown
