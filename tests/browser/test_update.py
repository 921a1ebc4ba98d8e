"""A new release waits while something is unsent or half typed, and comes when that is over."""

from collections.abc import Callable
from contextlib import suppress

import pytest
from django.test import Client
from playwright.sync_api import BrowserContext, Error, Page, expect

from jobs.views import entry, worker
from tests.browser.floor import Floor
from tests.browser.test_outbox import (
    FIRST,
    NOTHING,
    count_says,
    enter,
    form_of,
    open_step,
    recorded,
)

ContextAt = Callable[[str], BrowserContext]
ONE = "1 entry waits on this tablet"
RELEASE = "anotherone12"
LOOK = """async () => {
  const found = await navigator.serviceWorker.getRegistration();
  await found.update();
}"""
WAITING = """async () => Boolean((await navigator.serviceWorker.getRegistration()).waiting)"""
SHELLS = """async () => (await caches.keys()).filter((name) => name.startsWith("coldbus-shell-"))"""
CONTROLLED = """async () => {
  await navigator.serviceWorker.ready;
  return Boolean(navigator.serviceWorker.controller);
}"""


def settled(page: Page, question: str) -> None:
    """Wait until the page answers yes."""
    for _ in range(120):
        # A page that is just being left answers nothing.
        with suppress(Error):
            if page.evaluate(question):
                return
        page.wait_for_timeout(250)
    raise AssertionError(question)


def a_new_release(page: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the server have another worker, and the tablet find it."""
    before = Client().get("/sw.js").content.decode()
    release = before.partition('"release": "')[2].partition('"')[0]
    monkeypatch.setattr(worker, "script", lambda _language: before.replace(release, RELEASE))
    page.evaluate(LOOK)
    settled(page, WAITING)


def offer(page: Page) -> None:
    """Ask the page to look again whether it may be offered now."""
    page.evaluate("() => document.dispatchEvent(new CustomEvent('coldbus:queue'))")


@pytest.fixture
def page(context_at: ContextAt, floor: Floor) -> Page:
    return context_at(floor.address).new_page()


def load_it(page: Page) -> None:
    """Take the offer and wait for the page as the new release has it."""
    page.evaluate("() => { window.before = true; }")
    page.locator("[data-update]").get_by_role("button", name="Load it").click()
    settled(page, "() => !window.before")
    expect(page.locator("h1")).to_have_text("Isolation readings")
    settled(page, CONTROLLED)
    settled(page, f"async () => !(await ({WAITING})())")


def test_a_new_release_waits_for_what_is_unsent_and_then_comes(
    page: Page, floor: Floor, monkeypatch: pytest.MonkeyPatch
) -> None:
    scene = open_step(page, floor)
    settled(page, CONTROLLED)
    line = page.locator("[data-update]")
    with pytest.MonkeyPatch.context() as patch:
        # The server answers, and about nothing: the entry goes on waiting.
        patch.setattr(entry, "answer_batch", lambda *_sent, **_who: (200, []))
        enter(page, FIRST, "19")
        count_says(page, ONE)
        a_new_release(page, monkeypatch)
        offer(page)
        page.wait_for_timeout(500)
        expect(line).to_have_count(0)
    page.evaluate("() => window.dispatchEvent(new Event('online'))")
    count_says(page, NOTHING)
    expect(line).to_contain_text("A new version is ready")
    load_it(page)
    assert any(RELEASE in name for name in page.evaluate(SHELLS))
    expect(line).to_have_count(0)
    assert len(recorded(scene, FIRST)) == 1


def test_a_new_release_waits_for_what_is_half_typed_and_then_comes(
    page: Page, floor: Floor, monkeypatch: pytest.MonkeyPatch
) -> None:
    open_step(page, floor)
    settled(page, CONTROLLED)
    field = form_of(page, FIRST).locator("[name=value]")
    field.fill("1")
    a_new_release(page, monkeypatch)
    offer(page)
    page.wait_for_timeout(500)
    expect(page.locator("[data-update]")).to_have_count(0)
    expect(field).to_have_value("1")
    field.fill("")
    expect(page.locator("[data-update]")).to_be_visible()
    load_it(page)


def test_a_button_pressed_too_late_changes_nothing(
    page: Page, floor: Floor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Something is typed between the offer and the tap on it."""
    open_step(page, floor)
    settled(page, CONTROLLED)
    a_new_release(page, monkeypatch)
    line = page.locator("[data-update]")
    expect(line).to_be_visible()
    # Set without an event, as when the page has had no time yet to take the offer away.
    field = form_of(page, FIRST).locator("[name=value]")
    field.evaluate("(each) => { each.value = '19'; }")
    line.get_by_role("button", name="Load it").click()
    expect(line).to_have_count(0)
    expect(field).to_have_value("19")
    assert page.evaluate(WAITING)
