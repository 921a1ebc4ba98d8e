"""Where a request comes from: one browser, told by a cookie, or an address on the network.

A place is a short text that names no address: ``browser:`` with the identifier that the browser
got when somebody signed on at it, else ``address:`` with a digest keyed by the shop's secret.
It holds for a request; outside of one (commands, tests of actions) there is none.
"""

import hashlib
import hmac
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Final

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

__all__ = ["COOKIE", "at", "current", "of_request", "remember"]

COOKIE: Final = "coldbus_browser"
KEPT_S: Final = 366 * 86_400
DIGEST_LETTERS: Final = 16
_CURRENT: ContextVar[str] = ContextVar("place", default="")


def current() -> str:
    """Give the place of the request being answered; empty outside of one."""
    return _CURRENT.get()


@contextmanager
def at(place: str) -> Iterator[None]:
    """Let what happens inside happen at that place."""
    token = _CURRENT.set(place)
    try:
        yield
    finally:
        _CURRENT.reset(token)


def _browser(request: HttpRequest) -> str:
    """Give the identifier that this browser was given; empty for an unknown one."""
    return request.get_signed_cookie(COOKIE, default="", salt=COOKIE) or ""


def of_request(request: HttpRequest) -> str:
    """Name the place of a request.

    Parameters
    ----------
    request : HttpRequest
        A browser that nobody has signed on at yet has no cookie, and losing it is easy: such a
        one is counted by its address, together with all others there.

    Returns
    -------
    str
        At most 48 letters.
    """
    browser = _browser(request)
    if browser:
        return f"browser:{browser}"
    address = str(request.META.get("REMOTE_ADDR", ""))
    digest = hmac.new(settings.SECRET_KEY.encode(), address.encode(), hashlib.sha256)
    return f"address:{digest.hexdigest()[:DIGEST_LETTERS]}"


def remember(request: HttpRequest, response: HttpResponseBase) -> None:
    """Give a browser its identifier once somebody has signed on at it."""
    response.set_signed_cookie(
        COOKIE,
        _browser(request) or uuid.uuid4().hex,
        salt=COOKIE,
        max_age=KEPT_S,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
