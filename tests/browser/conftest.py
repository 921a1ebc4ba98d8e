"""A server with the invented shop, and a browser that looks at it; one of each for all tests."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from tests.running import Running, running_server

CHROMIUM = os.environ.get("COLDBUS_CHROMIUM", "/usr/bin/chromium")
# Glove-sized: a 10-inch tablet, lying.
TABLET = {"width": 1180, "height": 820}


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running_server(tmp_path_factory.mktemp("shop"), "--demo") as running:
        yield running


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-dev-shm-usage"]
        )
        yield launched
        launched.close()


@pytest.fixture
def tablet(browser: Browser, shop: Running) -> Iterator[BrowserContext]:
    """A tablet of its own for each test: no cookies, nothing stored."""
    context = browser.new_context(
        viewport={"width": TABLET["width"], "height": TABLET["height"]}, base_url=shop.address
    )
    yield context
    context.close()


@pytest.fixture
def page(tablet: BrowserContext) -> Page:
    return tablet.new_page()


@pytest.fixture
def pictures() -> Path | None:
    """Where to keep pictures of the screens, if anybody wants them."""
    wanted = os.environ.get("COLDBUS_PICTURES")
    return Path(wanted) if wanted else None
