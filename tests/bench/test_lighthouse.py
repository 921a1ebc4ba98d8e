"""What Lighthouse says of the screens: accessibility and best practices, out of a hundred.

Prints the table that stands in DEVELOPERS.md. Needs Node's ``npx`` and the network that fetches
Lighthouse, and a Chromium; without them it is skipped and says so.
"""

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.bench.test_posting_and_pages import Tablet
from tests.running import running_server

pytestmark = pytest.mark.bench

LIGHTHOUSE = ("npx", "--yes", "lighthouse@12")
CHROMIUM = os.environ.get("COLDBUS_CHROMIUM", "/usr/bin/chromium")
CATEGORIES = ("accessibility", "best-practices")
LEAST = 95
FETCHED_WITHIN_S, LOOKED_WITHIN_S = 180, 180
FORMS = {"telephone": (), "desktop": ("--preset=desktop",)}
TECHNICIAN, MANAGER, DESK = "Aster", "Thorne", "Pell"
SCREENS = {
    "Sign on": ("", "/shop/sign-on/"),
    "Today": (TECHNICIAN, "/"),
    "Open jobs": (TECHNICIAN, "/jobs/"),
    "Booking": (DESK, "/jobs/book/"),
    "Practice": (TECHNICIAN, "/practice/"),
    "Physical packs": (TECHNICIAN, "/packs/units/"),
    "Backups": (MANAGER, "/shop/backups/"),
    "Quarantine": (TECHNICIAN, "/quarantine/"),
}
STEPS = ("fault_localisation", "module_swap", "seal_test", "road_test")


@dataclass(frozen=True)
class Found:
    """What was found on one screen: a score by category, and what lowered it."""

    scores: dict[str, int]
    lowered: tuple[str, ...]


def lighthouse_or_skip() -> None:
    if shutil.which(LIGHTHOUSE[0]) is None or not Path(CHROMIUM).exists():
        pytest.skip("Lighthouse needs npx (Node) and a Chromium; one of them is not here.")
    try:
        subprocess.run(
            [*LIGHTHOUSE, "--version"], check=True, capture_output=True, timeout=FETCHED_WITHIN_S
        )
    except (subprocess.CalledProcessError, subprocess.TimeoutExpired):
        pytest.skip("Lighthouse could not be fetched; this needs the network.")


def found_at(url: str, cookies: dict[str, str], form: str) -> Found:
    """Let Lighthouse look at a screen as the person whose cookies these are."""
    sent = json.dumps({"Cookie": "; ".join(f"{name}={text}" for name, text in cookies.items())})
    flags = [f"--only-categories={','.join(CATEGORIES)}", "--chrome-flags=--headless --no-sandbox"]
    flags += [f"--extra-headers={sent}", "--throttling-method=provided", "--quiet", *FORMS[form]]
    answer = subprocess.run(
        [*LIGHTHOUSE, url, *flags, "--output=json"],
        check=True,
        capture_output=True,
        timeout=LOOKED_WITHIN_S,
        env={**os.environ, "CHROME_PATH": CHROMIUM},
    )
    report = json.loads(answer.stdout)
    assert report["finalDisplayedUrl"] == url
    parts = {name: report["categories"][name] for name in CATEGORIES}
    weighed = {ref["id"] for part in parts.values() for ref in part["auditRefs"] if ref["weight"]}
    lowered = (
        f"{each['title']}: {json.dumps(each.get('details', {}).get('items'))[:400]}"
        for name, each in report["audits"].items()
        if name in weighed and each["score"] is not None and each["score"] < 1
    )
    return Found({name: round(100 * part["score"]) for name, part in parts.items()}, (*lowered,))


def step_pages(tablet: Tablet) -> Iterator[tuple[str, str]]:
    """Give an open job's page of each step that is looked at."""
    _, page, _ = tablet.ask("GET", "/jobs/")
    left = set(STEPS)
    for job in sorted(set(re.findall(r'href="/jobs/([0-9a-f-]{36})/"', page))):
        _, _, path = tablet.ask("GET", f"/jobs/{job}/")
        slug = path.rstrip("/").rpartition("/")[2]
        if slug in left:
            left.remove(slug)
            yield f"Step {slug.replace('_', ' ')}", path
    assert not left


def signed_on(address: str) -> dict[str, Tablet]:
    """Give a tablet for each person, and one at which nobody is signed on."""
    tablets = {name: Tablet(address) for name in ("", TECHNICIAN, MANAGER, DESK)}
    for name, tablet in tablets.items():
        if name:
            tablet.sign_on(name)
    return tablets


def all_found(address: str) -> Iterator[tuple[str, str, Found]]:
    """Look at every screen in both forms."""
    tablets = signed_on(address)
    wanted = {**SCREENS, **{n: (TECHNICIAN, p) for n, p in step_pages(tablets[TECHNICIAN])}}
    for name, (person, path) in wanted.items():
        for form in FORMS:
            url = f"{address.rstrip('/')}{path}"
            yield name, form, found_at(url, tablets[person].cookies, form)
    for tablet in tablets.values():
        tablet.close()


def test_screens_are_accessible_and_well_behaved(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lighthouse_or_skip()
    low = []
    with running_server(tmp_path / "data", "--demo") as shop:
        for name, form, found in all_found(shop.address):
            scores = [found.scores[each] for each in CATEGORIES]
            with capsys.disabled():
                sys.stdout.write(f"\n| {name} | {form} | {scores[0]} | {scores[1]} |")
                sys.stdout.write("".join(f"\n  {each}" for each in found.lowered))
            if min(scores) < LEAST:
                low.append(f"{name}, {form}: {scores}, {found.lowered}")
    assert "\n".join(low) == ""
