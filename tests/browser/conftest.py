"""Two workshops, and a browser that looks at them; one of each for all tests.

``shop`` is a server of its own process with the invented shop; ``floor`` runs in this process, on a
clock that the test moves. The floor is served over https with the workshop's own authority, which
the browser trusts, and over plain http beside it.
"""

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, expect, sync_playwright
from pytest_django import DjangoDbBlocker

from tests.browser.encrypted import CERTUTIL, trust
from tests.browser.floor import HOST, NAME, Floor, a_floor
from tests.running import Running, running_server
from workshop import clock
from workshop.serving.authority import keeping
from workshop.serving.data_folder import AUTHORITY_NAME

CHROMIUM = os.environ.get("COLDBUS_CHROMIUM", "/usr/bin/chromium")
ARGUMENTS = ("--no-sandbox", "--disable-dev-shm-usage", f"--host-resolver-rules=MAP {NAME} {HOST}")
# Glove-sized: a 10-inch tablet, lying.
TABLET = ViewportSize(width=1180, height=820)
# Two browsers and two servers share two cores; patience costs nothing where a page is quick.
PATIENCE_MS = 20_000
expect.set_options(timeout=PATIENCE_MS)


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running_server(tmp_path_factory.mktemp("shop"), "--demo") as running:
        yield running


@pytest.fixture(scope="session")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> keeping.Kept | None:
    """The floor's certificate; None where no browser here can be made to trust it."""
    if CERTUTIL is None:
        return None
    return keeping.prepare(tmp_path_factory.mktemp("authority"), (HOST,), clock.now())


@pytest.fixture(scope="session")
def home(
    certificate: keeping.Kept | None, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, str]:
    """The environment of a browser whose owner trusts the floor's authority."""
    if certificate is None:
        return dict(os.environ)
    folder = tmp_path_factory.mktemp("home")
    authority = certificate.certificate.with_name(AUTHORITY_NAME)
    trust(folder, authority)
    # What a test fetches on a browser's behalf is fetched outside of it.
    return {**os.environ, "HOME": str(folder), "NODE_EXTRA_CA_CERTS": str(authority)}


@pytest.fixture(scope="session")
def floor(
    certificate: keeping.Kept | None,
    tmp_path_factory: pytest.TempPathFactory,
    django_db_blocker: DjangoDbBlocker,
) -> Iterator[Floor]:
    folder = tmp_path_factory.mktemp("floor")
    with django_db_blocker.unblock(), a_floor(folder, certificate) as opened:
        yield opened


@pytest.fixture(scope="session")
def browser(home: dict[str, str]) -> Iterator[Browser]:
    with pytest.MonkeyPatch.context() as patch:
        if "NODE_EXTRA_CA_CERTS" in home:
            patch.setenv("NODE_EXTRA_CA_CERTS", home["NODE_EXTRA_CA_CERTS"])
        with sync_playwright() as playwright:
            launched = playwright.chromium.launch(
                executable_path=CHROMIUM, args=list(ARGUMENTS), env={**home}
            )
            yield launched
            launched.close()


class Complaints(list[str]):
    """What browsers complained about: faults of scripts, and what the policy forbade."""

    def listen_to(self, context: BrowserContext) -> None:
        """Hear every page of a context; an answer that is no success is no fault of the page."""
        context.on("weberror", lambda fault: self.append(str(fault.error)))
        context.on(
            "console",
            lambda said: (
                self.append(said.text)
                if said.type == "error" and "Failed to load resource" not in said.text
                else None
            ),
        )


@pytest.fixture
def complaints() -> Complaints:
    return Complaints()


@pytest.fixture
def context_at(
    browser: Browser, complaints: Complaints
) -> Iterator[Callable[[str], BrowserContext]]:
    """Give tablets of their own for each test: no cookies, nothing stored."""
    opened: list[BrowserContext] = []

    def at(address: str, size: ViewportSize = TABLET, scheme: str = "light") -> BrowserContext:
        context = browser.new_context(
            viewport=size,
            base_url=address,
            color_scheme="dark" if scheme == "dark" else "light",
            locale="en-GB",
        )
        context.set_default_timeout(PATIENCE_MS)
        complaints.listen_to(context)
        opened.append(context)
        return context

    yield at
    for context in opened:
        context.close()


@pytest.fixture
def page(context_at: Callable[[str], BrowserContext], floor: Floor) -> Page:
    """A page of a tablet on the floor."""
    return context_at(floor.address).new_page()


@pytest.fixture(scope="session")
def pictures() -> Path | None:
    """Where to keep pictures of the screens, if anybody wants them."""
    wanted = os.environ.get("COLDBUS_PICTURES")
    return Path(wanted) if wanted else None
