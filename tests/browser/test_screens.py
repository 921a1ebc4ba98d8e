"""Every screen at the sizes it is used in: nothing overflows, targets fit a glove."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, ViewportSize, expect

from tests.browser.conftest import Complaints
from tests.running import Running

SIZES = {
    "lying": ViewportSize(width=1180, height=820),
    "standing": ViewportSize(width=820, height=1180),
    "telephone": ViewportSize(width=390, height=844),
}
LISTS = (
    "/",
    "/jobs/",
    "/jobs/?closed=1",
    "/jobs/book/",
    "/packs/",
    "/packs/spares/",
    "/shop/customers/",
    "/shop/equipment/",
    "/shop/people/",
    "/shop/settings/",
    "/shop/sign-on/",
)
TARGET_PX = 48
# Links in a sentence may be narrow; what is unseen is no target. Half a pixel is rounding.
LOOK = """(target) => {
  const least = target - 0.5;
  const unseen = "[type=hidden], [type=checkbox], [type=radio], .skip, .hidden *";
  const small = [...document.querySelectorAll("a, button, input, select, textarea, summary")]
    .filter((each) => each.checkVisibility() && !each.matches(unseen))
    .map((each) => [each, each.getBoundingClientRect()])
    .filter(([, box]) => box.height)
    .filter(([each, box]) => box.height < least || (box.width < least && !each.matches("a")))
    .map(([each, box]) => `${each.outerHTML.slice(0, 60)} ${box.width} ${box.height}`);
  const wide = document.documentElement.scrollWidth - window.innerWidth;
  return JSON.stringify({ small, wide: Math.max(0, wide) });
}"""


def sign_on(page: Page, name: str, pin: str) -> None:
    page.goto("/shop/sign-on/")
    page.locator(".tile", has_text=name).click()
    page.get_by_label("PIN").fill(pin)
    page.get_by_role("button", name="Sign on").click()
    expect(page.locator(".signed-on")).to_contain_text(name)


def job_pages(page: Page) -> list[str]:
    """Find the open step of every job, and every page of the closed one."""
    page.goto("/jobs/?closed=1")
    found = [a.get_attribute("href") or "" for a in page.locator('a[href^="/jobs/"]').all()]
    jobs = sorted({each for each in found if re.fullmatch(r"/jobs/[0-9a-f-]{36}/", each)})
    page.goto(jobs[0])
    steps = [a.get_attribute("href") or "" for a in page.locator(".step-line a").all()]
    return [*jobs, *steps, f"{jobs[0]}record/"]


def look(page: Page, address: str) -> dict[str, Any]:
    page.goto(address)
    found: dict[str, Any] = json.loads(page.evaluate(LOOK, TARGET_PX))
    return found


def picture(page: Page, folder: Path | None, name: str) -> None:
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        plain = re.sub(r"\W+", "-", name).strip("-") or "today"
        page.screenshot(path=folder / f"{plain}.png")


@pytest.mark.parametrize("size", SIZES)
def test_every_screen_fits(
    size: str,
    context_at: Callable[..., BrowserContext],
    shop: Running,
    complaints: Complaints,
    pictures: Path | None,
) -> None:
    scheme = "dark" if size == "standing" else "light"
    page = context_at(shop.address, SIZES[size], scheme).new_page()
    sign_on(page, "Thorne", "2580")
    faults = {}
    for address in (*LISTS, *job_pages(page)):
        found = look(page, address)
        picture(page, pictures, f"{size} {address}")
        if found["small"] or found["wide"]:
            faults[address] = found
    assert faults == {}
    assert complaints == []


def test_the_band_stays_in_sight_however_far_one_scrolls(
    context_at: Callable[..., BrowserContext], shop: Running
) -> None:
    page = context_at(shop.address, SIZES["telephone"]).new_page()
    sign_on(page, "Aster", "2580")
    page.goto(next(each for each in job_pages(page) if each.count("/") == 3))
    page.mouse.wheel(0, 4000)
    expect(page.locator(".hv strong")).to_be_in_viewport()
    expect(page.locator(".foot-open")).to_be_in_viewport()


def test_the_bar_at_the_bottom_opens_what_the_readings_say_and_escape_closes_it(
    context_at: Callable[..., BrowserContext], shop: Running
) -> None:
    page = context_at(shop.address, SIZES["standing"]).new_page()
    sign_on(page, "Aster", "2580")
    page.goto(next(each for each in job_pages(page) if each.count("/") == 3))
    opener, panel = page.locator(".foot-open"), page.locator("#panel")
    expect(panel).to_be_hidden()
    opener.click()
    expect(panel).to_be_visible()
    expect(opener).to_have_attribute("aria-expanded", "true")
    page.keyboard.press("Escape")
    expect(panel).to_be_hidden()
