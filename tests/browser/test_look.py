"""How the screens hold up: nothing jumps, little travels, paper and portrait say what counts."""

import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, ViewportSize, expect

from tests.browser.floor import Floor
from tests.browser.hands import sign_on
from tests.browser.test_screens import SIZES, open_steps
from tests.running import Running

TECHNICIAN, PIN = "Aster", "2580"
# Some of it is the page itself; less than this, and something was not counted.
LEAST_ON_THE_WIRE_BYTES, MOST_ON_THE_WIRE_BYTES = 20_000, 150_000
PAPER = ViewportSize(width=700, height=1000)
INK = "(each) => getComputedStyle(each).color"
AFTER_MS = 500
"""How long after an answer what moves still counts [ms]."""
OBSERVE = """
  window.moved = [];
  new PerformanceObserver((list) => {
    for (const each of list.getEntries()) window.moved.push(each.value);
  }).observe({ type: "layout-shift", buffered: true });
"""
# Answers once the window is over; whatever a finger did shortly before counts as well.
MOVED = """(after) => new Promise((tell) => {
  const end = performance.now() + after;
  const look = () => {
    if (performance.now() < end) requestAnimationFrame(look);
    else tell(window.moved.splice(0).reduce((sum, each) => sum + each, 0));
  };
  look();
})"""
ROOM = "isolation_readings"
TOP = "(each) => each.getBoundingClientRect().top"


def form_of(page: Page, item: str) -> Locator:
    return page.locator(f'form[data-kind="value"][data-item="{item}"]').first


def moved(page: Page) -> float:
    """Give what has moved since it was last asked, and within half a second from now."""
    return float(page.evaluate(MOVED, AFTER_MS))


def entered(page: Page, press: Callable[[], object]) -> None:
    """Press something that enters, and wait until the page shows the record that it made."""
    before = page.locator(".work").get_attribute("data-head") or ""
    press()
    expect(page.locator(f'[data-head="{before}"]')).to_have_count(0)


def type_in(page: Page, item: str, typed: str) -> None:
    """Type a reading and press Enter."""
    field = form_of(page, f"{ROOM}.{item}").locator("[name=value]")
    field.fill(typed)
    entered(page, lambda: field.press("Enter"))


def choose_first(page: Page, item: str) -> None:
    """Choose the first answer of an item."""
    entered(page, form_of(page, f"{ROOM}.{item}").locator("button").first.click)


@contextmanager
def observed(context: BrowserContext, floor: Floor, slug: str, until: str) -> Iterator[Page]:
    """Open a job's page at an item, with an eye on what moves."""
    scene = floor.job(slug, until)
    page = context.new_page()
    page.add_init_script(OBSERVE)
    sign_on(page, TECHNICIAN, floor.shop.pin)
    page.goto(f"/jobs/{scene.job}/{until.partition('.')[0]}/")
    yield page


@pytest.mark.parametrize("size", SIZES)
def test_nothing_moves_by_itself_when_readings_and_ticks_are_entered(
    size: str, context_at: Callable[..., BrowserContext], floor: Floor
) -> None:
    context = context_at(floor.address, SIZES[size])
    with observed(context, floor, "hatchback-heater", f"{ROOM}.temperature_c") as page:
        assert moved(page) == 0
        type_in(page, "temperature_c", "19")
        type_in(page, "humidity_percent", "48")
        choose_first(page, "outcome")
        assert moved(page) == 0


@pytest.mark.parametrize("size", SIZES)
def test_what_is_entered_out_of_turn_stays_where_the_finger_is(
    size: str, context_at: Callable[..., BrowserContext], floor: Floor
) -> None:
    context = context_at(floor.address, SIZES[size])
    with observed(context, floor, "hatchback-heater", f"{ROOM}.temperature_c") as page:
        acts: dict[str, Callable[[Page, str], None]]
        acts = {"humidity_percent": partial(type_in, typed="48"), "outcome": choose_first}
        for item, act in acts.items():
            place = form_of(page, f"{ROOM}.{item}").locator("xpath=ancestor::*[@id][1]")
            named = place.get_attribute("id") or ""
            place.scroll_into_view_if_needed()
            before = place.evaluate(TOP)
            act(page, item)
            moved(page)
            assert page.locator(f'[id="{named}"]').evaluate(TOP) == pytest.approx(before, abs=1)


@pytest.mark.parametrize("size", SIZES)
def test_an_alarm_is_seen_at_every_size_and_pushes_nothing_aside(
    size: str, context_at: Callable[..., BrowserContext], floor: Floor
) -> None:
    context = context_at(floor.address, SIZES[size])
    with observed(context, floor, "hatchback-heater", f"{ROOM}.temperature_c") as page:
        assert moved(page) == 0
        page.locator("[data-alarm]").evaluate("(each) => { each.hidden = false; }")
        expect(page.get_by_role("button", name="Heard")).to_be_in_viewport()
        assert moved(page) == 0


def steps_of_the_shop(page: Page) -> list[str]:
    """Give the address of the open step of every job, as it is shown in the end."""
    found = []
    for address in open_steps(page):
        page.goto(address)
        found.append(page.url)
    return found


def travelled_bytes(page: Page, address: str) -> float:
    """Give what travels until a page stands that this tablet has never seen, in bytes."""
    line = page.context.new_cdp_session(page)
    line.send("Network.enable")
    line.send("Network.clearBrowserCache")
    sizes: list[float] = []
    line.on("Network.loadingFinished", lambda each: sizes.append(each["encodedDataLength"]))
    page.goto(address, wait_until="networkidle")
    line.detach()
    return sum(sizes)


def test_the_first_load_of_the_heaviest_step_is_light(
    context_at: Callable[..., BrowserContext],
    shop: Running,
    record_property: Callable[[str, object], None],
) -> None:
    context = context_at(shop.address)
    # What a tablet copies for later, once the page stands, is no part of its first load.
    context.add_init_script("delete Navigator.prototype.serviceWorker")
    page = context.new_page()
    sign_on(page, TECHNICIAN, PIN)
    loads = {each: travelled_bytes(page, each) for each in steps_of_the_shop(page)}
    heaviest = max(loads.values())
    sys.stdout.write(f"The heaviest step: {heaviest:.0f} bytes.\n")
    assert min(loads.values()) > LEAST_ON_THE_WIRE_BYTES
    assert heaviest <= MOST_ON_THE_WIRE_BYTES


@pytest.mark.parametrize("size", ["standing", "telephone"])
def test_warnings_are_read_without_opening_anything_where_the_readings_hide(
    size: str, context_at: Callable[..., BrowserContext], floor: Floor
) -> None:
    scene = floor.job("hatchback-heater", "de_energise_check.keys")
    page = context_at(floor.address, SIZES[size]).new_page()
    sign_on(page, TECHNICIAN, floor.shop.pin)
    page.goto(f"/jobs/{scene.job}/de_energise_check/")
    warned = page.locator("#panel .warning").all_text_contents()
    assert warned
    expect(page.locator("#panel")).to_be_hidden()
    for words in warned:
        expect(page.locator(".work .warning").filter(has_text=words)).to_be_visible()
    expect(page.locator(".foot-open")).to_contain_text(f"{len(warned)} warning")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_printed_step_says_which_job_it_is_and_what_comes_next_and_has_no_forms(
    scheme: str, context_at: Callable[..., BrowserContext], floor: Floor
) -> None:
    scene = floor.job("hatchback-heater", f"{ROOM}.temperature_c")
    page = context_at(floor.address, scheme=scheme).new_page()
    sign_on(page, TECHNICIAN, floor.shop.pin)
    page.goto(f"/jobs/{scene.job}/{ROOM}/")
    missing = page.locator("#panel .points a").all_text_contents()
    done = page.locator("details.group-done .given").first
    expect(done).to_be_hidden()
    page.emulate_media(media="print")
    page.set_viewport_size(PAPER)
    for seen in (".bar-number", ".bar-plate", ".hv strong", ".next .button", ".cautions li"):
        expect(page.locator(seen).first).to_be_visible()
    for words in missing:
        expect(page.locator("#panel .points a").filter(has_text=words).first).to_be_visible()
    expect(done).to_be_visible()
    assert page.locator("#content :is(input, select, textarea, button):visible").count() == 0
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.locator("h1").evaluate(INK) == "rgb(0, 0, 0)"


def test_whoever_listens_hears_what_a_row_of_buttons_answers(page: Page, floor: Floor) -> None:
    scene = floor.job("hatchback-heater", f"{ROOM}.temperature_c")
    sign_on(page, TECHNICIAN, floor.shop.pin)
    page.goto(f"/jobs/{scene.job}/{ROOM}/")
    for item, role in (
        ("outcome", "group"),
        ("outcome", "article"),
        ("pack_not_excluded", "article"),
    ):
        card = page.locator(".card", has=form_of(page, f"{ROOM}.{item}"))
        named = card.locator("h3, summary > span").first.inner_text()
        at = card if role == "group" else page
        expect(at.get_by_role(role, name=named, exact=True)).to_be_visible()  # type: ignore[arg-type]


@pytest.mark.parametrize("size", SIZES)
def test_the_keypad_of_the_pin_moves_nothing_when_it_comes(
    size: str, context_at: Callable[..., BrowserContext], floor: Floor
) -> None:
    page = context_at(floor.address, SIZES[size]).new_page()
    page.add_init_script(OBSERVE)
    page.goto("/shop/sign-on/")
    page.locator(".tile", has_text=TECHNICIAN).click()
    expect(page.get_by_role("group", name="Digits")).to_be_visible()
    assert moved(page) == 0


@pytest.mark.parametrize("size", ["standing", "telephone"])
def test_a_time_that_runs_is_seen_beside_next_where_the_readings_hide(
    size: str, context_at: Callable[..., BrowserContext], floor: Floor
) -> None:
    scene = floor.job("van-coolant", "de_energise_check.gloves")
    page = context_at(floor.address, SIZES[size]).new_page()
    sign_on(page, TECHNICIAN, floor.shop.pin)
    page.goto(f"/jobs/{scene.job}/de_energise_check/")
    left = page.locator(".foot-time strong")
    expect(left).to_have_text(re.compile("^[0-9]+:[0-9]{2}$"))
    expect(left).to_be_in_viewport()
    expect(page.get_by_role("link", name="Next", exact=True)).to_be_in_viewport(ratio=1)
