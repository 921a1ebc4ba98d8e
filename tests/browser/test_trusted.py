"""A browser that trusts the workshop's authority, over https; a server that dies under it."""

import os
import re
import urllib.parse
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page, expect

from tests.browser.conftest import CHROMIUM, TABLET
from tests.browser.encrypted import CERTUTIL, MISSING, trust
from tests.browser.floor import Floor
from tests.browser.hands import sign_on
from tests.running import Running, running_server
from tests.soak_tablets import kill
from workshop.serving.data_folder import AUTHORITY_NAME

PIN = "2580"
NOTE = 'form[data-item$=".note"]'
KEPT = """async (path) => Boolean(await (await caches.open("coldbus-pages")).match(path))"""
UNFOLD = """(form) => {
  let fold = form.closest("details");
  for (; fold; fold = fold.parentElement.closest("details")) fold.open = true;
}"""

pytestmark = pytest.mark.skipif(CERTUTIL is None, reason=MISSING)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def shop(data: Path) -> Iterator[Running]:
    with running_server(data, "--demo", "--https", "--https-port", "0") as running:
        yield running


def trusting(browser: Browser, folder: Path, shop: Running) -> BrowserContext:
    """Open a browser of its own that trusts the shop's authority."""
    home = folder / "home"
    trust(home, shop.folder / AUTHORITY_NAME)
    return browser.browser_type.launch_persistent_context(
        str(folder / "profile"),
        executable_path=CHROMIUM,
        args=["--no-sandbox", "--disable-dev-shm-usage"],
        env={**os.environ, "HOME": str(home)},
        viewport=TABLET,
        base_url=shop.address,
    )


def note(page: Page, words: str) -> None:
    """Write a note on the page of a step."""
    form = page.locator(NOTE).first
    form.evaluate(UNFOLD)
    form.locator("textarea").fill(words)
    form.locator("button[type=submit]").click()


def waits(page: Page, number: int) -> None:
    words = "1 entry waits" if number == 1 else f"{number} entries wait"
    expect(page.locator("[data-queue]")).to_have_accessible_name(f"{words} on this tablet")


def open_job(page: Page) -> str:
    """Open the first job of the list whose step takes a note; give its address."""
    page.goto("/jobs/")
    found = re.findall(r'href="(/jobs/[0-9a-f-]{36}/)"', page.content())
    page.goto(found[0])
    return urllib.parse.urlsplit(page.url).path


def refuses(browser: Browser, shop: Running) -> None:
    """Without the certificate nobody is let in."""
    page = browser.new_page()
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        page.goto(shop.address)
    page.close()


def test_a_server_that_dies_loses_nothing_that_was_written_on_the_tablet(
    browser: Browser, data: Path, shop: Running, tmp_path: Path
) -> None:
    refuses(browser, shop)
    context = trusting(browser, tmp_path, shop)
    page = context.new_page()
    assert page.evaluate("window.isSecureContext") is False
    page.goto("/start/")
    assert page.evaluate("window.isSecureContext && Boolean(crypto.subtle)")
    page.get_by_role("button", name="Test now").click()
    expect(page.locator('[data-ability="worker"]')).to_have_class("start-yes")
    page.goto("/")
    sign_on(page, "Aster", PIN)
    assert {each["name"] for each in context.cookies()} >= {"__Host-coldbus_session"}
    path = open_job(page)
    for _ in range(120):
        if page.evaluate(KEPT, path):
            break
        page.wait_for_timeout(250)
    kill(shop)
    note(page, "first, without a server")
    waits(page, 1)
    page.reload()
    expect(page.locator(".queued")).to_contain_text("first, without a server")
    note(page, "second, after a reload")
    waits(page, 2)
    port = str(urllib.parse.urlsplit(shop.address).port)
    with running_server(data, "--https", "--https-port", port):
        page.get_by_role("link", name="entries wait on this tablet").click()
        page.get_by_role("button", name="Send now").click()
        waits(page, 0)
        page.goto(path.rpartition("/")[0].rpartition("/")[0] + "/record/")
        for words in ("first, without a server", "second, after a reload"):
            expect(page.get_by_text(words)).to_have_count(1)
    context.close()


def test_the_floor_of_these_tests_is_served_over_https_and_trusted(
    browser: Browser, floor: Floor
) -> None:
    page = browser.new_page()
    page.goto(f"{floor.address}/start/")
    assert page.evaluate("location.protocol + isSecureContext") == "https:true"
    assert page.evaluate("Boolean(navigator.locks && crypto.subtle && navigator.serviceWorker)")
    page.goto(f"{floor.plain}/start/")
    assert page.evaluate("location.protocol + isSecureContext") == "http:false"
    assert page.evaluate("[navigator.locks, crypto.subtle, navigator.serviceWorker].every(x => !x)")
    page.close()
