"""Finds every screen that somebody can get to by tapping, one address for each kind of page."""

import re
from collections import deque
from collections.abc import Iterable, Iterator

from playwright.sync_api import Page

UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
FILES = re.compile(r"\.(pdf|csv|toml|zip|sealed)$|/file/$|/attachments/|/download/")
MOST_PAGES = 140


def kind_of(address: str) -> str:
    """Give the kind of page of an address: what is named in it does not count, the step does."""
    path = UUID.sub("*", address.partition("?")[0].partition("#")[0])
    path = re.sub(r"/kinds/[^/]+/", "/kinds/*/", path)
    path = re.sub(r"/limits/[^/]+/", "/limits/*/", path)
    path = re.sub(r"/equipment/add/[^/]+/", "/equipment/add/*/", path)
    return re.sub(r"/[0-9]+(?=/)", "/1", path)


def links_on(page: Page) -> list[str]:
    """Give the addresses to which the page on the screen leads."""
    hrefs = page.evaluate("[...document.querySelectorAll('a[href]')].map((a) => a.href)")
    here = re.match(r"https?://[^/]+", page.url)
    home = "" if here is None else here[0]
    inside = (href.removeprefix(home) for href in hrefs if href.startswith(home))
    return [href for href in inside if not FILES.search(href.partition("?")[0])]


def screens(page: Page, start: str = "/", also: Iterable[str] = ()) -> Iterator[str]:
    """Show each kind of page once, wherever it is found, and give its address while it is shown.

    Parameters
    ----------
    page : Page
        A page at which somebody is signed on.
    start : str
        Where to begin.
    also : Iterable[str]
        Addresses that are shown whatever kind they are.

    Yields
    ------
    str
        The address that is shown.
    """
    waiting, seen = deque([start, *also]), {kind_of(start)}
    while waiting:
        address = waiting.popleft()
        answer = page.goto(address)
        if answer is None or answer.status != 200:
            continue
        yield address
        for each in links_on(page):
            kind = kind_of(each)
            if kind not in seen and len(seen) < MOST_PAGES and "sign-off" not in kind:
                seen.add(kind)
                waiting.append(each)
