"""Every screen that a role can tap its way to, at the sizes it is used in.

Nothing overflows, targets fit a glove, no rule of WCAG 2.2 AA that a tool can check is broken. Each
role goes through its screens once; what was seen is told apart afterwards.
"""

import json
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, expect

from tests.browser.conftest import Complaints
from tests.browser.crawl import kind_of, screens
from tests.browser.hands import sign_on
from tests.running import Running

SIZES = {
    "lying": ViewportSize(width=1180, height=820),
    "standing": ViewportSize(width=820, height=1180),
    "telephone": ViewportSize(width=390, height=844),
}
ROUNDS = {
    "Thorne": ("lying", "light"),
    "Aster": ("standing", "dark"),
    "Lorne": ("telephone", "light"),
}
"""Who goes round, at which size and in which colours the rules are checked."""
FEWEST_KINDS = 20
PIN = "2580"
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
}
TARGET_PX = 48
# Links in a sentence may be narrow; what is unseen is no target. Half a pixel is rounding.
LOOK = """(target) => {
  const least = target - 0.5;
  const unseen = "[type=hidden], [type=checkbox], [type=radio], .skip, .hidden, .hidden *";
  const small = [...document.querySelectorAll("a, button, input, select, textarea, summary")]
    .filter((each) => each.checkVisibility() && !each.matches(unseen))
    .map((each) => [each, each.getBoundingClientRect()])
    .filter(([, box]) => box.height)
    .filter(([each, box]) => box.height < least || (box.width < least && !each.matches("a")))
    .map(([each, box]) => `${each.outerHTML.slice(0, 90)} ${box.width} ${box.height}`);
  const wide = document.documentElement.scrollWidth - window.innerWidth;
  const cut = [...document.querySelectorAll(".table-scroll")]
    .filter((each) => !each.closest("[aria-label='Pack map']") && each.checkVisibility())
    .filter((each) => each.scrollWidth > each.clientWidth + 1)
    .map((each) => `${each.ariaLabel} by ${each.scrollWidth - each.clientWidth}`);
  const clipped = [...document.querySelectorAll(".bar *")]
    .filter((each) => getComputedStyle(each).textOverflow === "ellipsis")
    .filter((each) => each.checkVisibility() && each.scrollWidth > each.clientWidth + 1)
    .map((each) => each.textContent);
  return JSON.stringify({ small, cut, clipped, wide: Math.max(0, wide) });
}"""


@dataclass
class Seen:
    """What one person met on the way: by kind of page, faults of measure and broken rules."""

    kinds: set[str] = field(default_factory=set)
    misfits: list[str] = field(default_factory=list)
    broken: list[str] = field(default_factory=list)
    complaints: Complaints = field(default_factory=Complaints)


def measure(page: Page, size: str) -> list[str]:
    """Tell what is too small at a size, and by how much the page overflows."""
    page.set_viewport_size(SIZES[size])
    found: dict[str, Any] = json.loads(page.evaluate(LOOK, TARGET_PX))
    wide = [f"wider than the screen by {found['wide']} px"] if found["wide"] else []
    cut = [f"a table has to be pushed sideways: {each} px" for each in found["cut"]]
    clipped = [f"cut off: {each}" for each in found["clipped"]]
    return [*found["small"], *wide, *cut, *clipped]


def picture(page: Page, folder: Path | None, name: str) -> None:
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        plain = re.sub(r"\W+", "-", name).strip("-") or "today"
        page.screenshot(path=folder / f"{plain}.png")


def open_steps(page: Page) -> tuple[str, ...]:
    """Give the open step of every job; what a step asks differs with where the job stands."""
    page.goto("/jobs/")
    found = [a.get_attribute("href") or "" for a in page.locator('a[href^="/jobs/"]').all()]
    return tuple(sorted({each for each in found if re.fullmatch(r"/jobs/[0-9a-f-]{36}/", each)}))


def weeks_before(page: Page) -> tuple[str, ...]:
    """Give the weeks in which the jobs of the demo were closed; which they are depends on today."""
    found = []
    page.goto("/jobs/week/")
    for _ in range(2):
        page.locator("#week-before").click()
        found.append("/jobs/week/?" + page.url.partition("?")[2])
    return tuple(found)


def look_at(page: Page, name: str, address: str, seen: Seen, folder: Path | None) -> None:
    """Look at the page that is shown: at every size, and against the rules at the person's own."""
    kind, own = kind_of(page.url.partition("://")[2].partition("/")[2]), ROUNDS[name][0]
    for size in (*(each for each in SIZES if each != own), own):
        found = measure(page, size)
        picture(page, folder, f"{name} {size} {kind}")
        seen.misfits.extend(f"{address} {size}: {each}" for each in found)
    broken = Axe().run(page, options=RULES).response["violations"]
    seen.broken.extend(f"{address} {each['id']}: {each['nodes'][0]['html']}" for each in broken)
    seen.kinds.add(kind)


@pytest.fixture(scope="session")
def round_of(browser: Browser, shop: Running, pictures: Path | None) -> Callable[[str], Seen]:
    """Let a person go through every screen, once for all tests."""

    @cache
    def go_round(name: str) -> Seen:
        size, scheme = ROUNDS[name]
        seen = Seen()
        context = browser.new_context(
            viewport=SIZES[size],
            base_url=shop.address,
            color_scheme="dark" if scheme == "dark" else "light",
            locale="en-GB",
        )
        seen.complaints.listen_to(context)
        page = context.new_page()
        sign_on(page, name, PIN)
        also = open_steps(page) if name == "Aster" else weeks_before(page)
        for address in screens(page, also=also):
            look_at(page, name, address, seen, pictures)
        context.close()
        return seen

    return go_round


@pytest.mark.parametrize("name", ROUNDS)
def test_every_screen_fits_every_size_and_a_glove(
    name: str, round_of: Callable[[str], Seen]
) -> None:
    seen = round_of(name)
    assert "\n".join(seen.misfits) == ""
    assert seen.complaints == []
    assert len(seen.kinds) >= FEWEST_KINDS


@pytest.mark.parametrize("name", ROUNDS)
def test_no_screen_breaks_a_rule_of_accessibility(
    name: str, round_of: Callable[[str], Seen]
) -> None:
    assert "\n".join(round_of(name).broken) == ""


def first_job(page: Page) -> str:
    """Give the address of an open job."""
    return open_steps(page)[0]


def test_the_band_stays_in_sight_however_far_one_scrolls(
    context_at: Callable[..., BrowserContext], shop: Running
) -> None:
    page = context_at(shop.address, SIZES["telephone"]).new_page()
    sign_on(page, "Aster", PIN)
    page.goto(first_job(page))
    page.mouse.wheel(0, 4000)
    expect(page.locator(".hv strong")).to_be_in_viewport()
    expect(page.locator(".foot-open")).to_be_in_viewport()


def test_the_bar_at_the_bottom_opens_what_the_readings_say_and_escape_closes_it(
    context_at: Callable[..., BrowserContext], shop: Running
) -> None:
    page = context_at(shop.address, SIZES["standing"]).new_page()
    sign_on(page, "Aster", PIN)
    page.goto(first_job(page))
    opener, panel = page.locator(".foot-open"), page.locator("#panel")
    expect(panel).to_be_hidden()
    opener.click()
    expect(panel).to_be_visible()
    expect(opener).to_have_attribute("aria-expanded", "true")
    page.keyboard.press("Escape")
    expect(panel).to_be_hidden()
