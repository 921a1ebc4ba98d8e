"""Plain http, the reduced mode: no locks, no sealing, no worker; entries wait all the same."""

import time
from collections.abc import Callable
from pathlib import Path

import pytest
from django.conf import settings
from playwright.sync_api import Browser, BrowserContext, Error, Page, Route, expect

from tests.browser.floor import HOST, Floor, served
from tests.browser.test_outbox import (
    FIRST,
    HUMIDITY,
    NOTHING,
    SIGNED,
    Door,
    count_says,
    enter,
    form_of,
    open_step,
    recorded,
    sign_as,
)
from workshop import clock
from workshop.serving.authority import keeping

ContextAt = Callable[[str], BrowserContext]
TWO = "2 entries wait on this tablet"
ONLINE = "() => window.dispatchEvent(new Event('online'))"
SLOW_S = 0.4
PATIENCE_MS = 30_000


@pytest.fixture
def page(context_at: ContextAt, floor: Floor, monkeypatch: pytest.MonkeyPatch) -> Page:
    """A tablet that reaches the server over plain http, by a name no browser holds for safe."""
    monkeypatch.setattr(settings, "COLDBUS_HTTPS", False)
    page = context_at(floor.plain).new_page()
    page.goto("/start/")
    assert page.evaluate("() => !isSecureContext && !navigator.locks && !navigator.serviceWorker")
    return page


def slowly(route: Route) -> None:
    """Take so long that another tab could begin to send meanwhile."""
    time.sleep(SLOW_S)
    route.continue_()


def test_three_tabs_send_each_entry_once_by_the_lease(page: Page, floor: Floor) -> None:
    scene = open_step(page, floor)
    address, others = page.url, [page.context.new_page() for _ in range(2)]
    for each in others:
        each.goto(address)
    page.context.set_offline(True)
    enter(page, FIRST, "19")
    enter(page, HUMIDITY, "58")
    count_says(page, TWO)
    door = Door(page)
    door.answer = slowly
    page.context.set_offline(False)
    for each in (page, *others):
        each.evaluate(ONLINE)
    for each in (page, *others):
        count_says(each, NOTHING)
    sent = [entry["key"] for body in door.bodies for entry in body["entries"]]
    assert len(sent) == len(set(sent)) == len([FIRST, HUMIDITY])
    assert [item for item, _ in recorded(scene, FIRST, HUMIDITY)] == [FIRST, HUMIDITY]


def test_a_tab_that_dies_with_the_lease_holds_nobody_up_for_good(page: Page, floor: Floor) -> None:
    scene = open_step(page, floor)
    address, door = page.url, Door(page)
    other = page.context.new_page()
    other.goto(address)
    door.answer = lambda _route: None
    enter(other, FIRST, "19")
    until = time.monotonic() + 10
    while not door.bodies and time.monotonic() < until:
        other.wait_for_timeout(50)
    other.close()
    door.answer = Route.continue_
    # The lease of a tab that is gone ends a little after its sending would have.
    expect(page.locator("[data-queue]")).to_have_accessible_name(NOTHING, timeout=PATIENCE_MS)
    assert len(recorded(scene, FIRST)) == 1


def test_readings_wait_and_a_signature_needs_the_connection(page: Page, floor: Floor) -> None:
    scene = open_step(page, floor, until=SIGNED)
    banner = page.locator(".open-wire")
    expect(banner).to_contain_text("Signing needs the connection")
    expect(banner).to_be_visible()
    page.context.set_offline(True)
    sign_as(page, SIGNED, floor.shop.pin)
    answer = form_of(page, SIGNED).locator(".answer")
    expect(answer).to_contain_text("Signing needs the connection: the server did not answer")
    expect(form_of(page, SIGNED).locator("[name=pin]")).to_have_value(floor.shop.pin)
    count_says(page, NOTHING)
    assert recorded(scene, SIGNED) == []
    page.context.set_offline(False)
    form_of(page, SIGNED).locator("button[type=submit]").click()
    expect(form_of(page, SIGNED)).to_have_count(0)
    assert len(recorded(scene, SIGNED)) == 1


def test_a_reload_while_the_server_is_away_keeps_what_waits(page: Page, floor: Floor) -> None:
    scene = open_step(page, floor)
    address = page.url
    page.context.set_offline(True)
    enter(page, FIRST, "19")
    enter(page, HUMIDITY, "58")
    count_says(page, TWO)
    with pytest.raises(Error, match="ERR_INTERNET_DISCONNECTED"):
        page.reload()
    page.context.set_offline(False)
    page.goto(address)
    expect(page.locator("[data-queue]")).to_have_accessible_name(NOTHING, timeout=PATIENCE_MS)
    assert [item for item, _ in recorded(scene, FIRST, HUMIDITY)] == [FIRST, HUMIDITY]


def test_the_start_page_says_what_works_with_less(page: Page) -> None:
    page.goto("/start/")
    page.get_by_role("button", name="Test now").click()
    for name, kind in {"secure": "no", "store": "yes", "worker": "no", "kept": "no"}.items():
        expect(page.locator(f'[data-ability="{name}"]')).to_have_class(f"start-{kind}")


def test_a_certificate_that_was_only_clicked_through_is_told_as_less(
    browser: Browser, floor: Floor, tmp_path: Path
) -> None:
    """The page opens and calls itself secure, and yet no worker is let in."""
    stranger = keeping.prepare(tmp_path, (HOST,), clock.now())
    with served(stranger) as address:
        context = browser.new_context(ignore_https_errors=True, base_url=address)
        page = context.new_page()
        page.goto("/start/")
        page.get_by_role("button", name="Test now").click()
        expect(page.locator('[data-ability="secure"]')).to_have_class("start-yes")
        expect(page.locator('[data-ability="worker"]')).to_have_class("start-no")
        context.close()
