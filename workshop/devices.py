"""Which device a request comes from, and whether it may be worked at.

A device that was taken in keeps a token in a cookie, for a year from its last sign-on; over https
the cookie is bound to this host like the session's. One that was turned away, or that is unknown
where the shop works at its own devices only, is shut out: nobody is signed on there, entries are
answered with "auth" and wait, and the page that takes a code is shown.
"""

from typing import Final

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

from workshop.queries import DeviceInfo, device_of_token
from workshop.registers import ShopInfo

__all__ = ["COOKIE", "is_shut_out", "of_request", "remember", "token_of"]

COOKIE: Final = settings.DEVICE_COOKIE_NAME
KEPT_S: Final = 366 * 86_400
TOKEN_LETTERS: Final = 64


def token_of(request: HttpRequest) -> str:
    """Give the token that the device sends; empty where it has none."""
    return request.COOKIES.get(COOKIE, "")[:TOKEN_LETTERS]


def of_request(request: HttpRequest) -> DeviceInfo | None:
    """Give the device of a request, revoked or not; None for an unknown one."""
    token = token_of(request)
    return device_of_token(token) if token else None


def is_shut_out(device: DeviceInfo | None, shop: ShopInfo) -> bool:
    """Say whether nobody may work at a device.

    Parameters
    ----------
    device : DeviceInfo | None
        The device; None for an unknown one.
    shop : ShopInfo
        Whether it works at its own devices only.
    """
    return shop.only_enrolled if device is None else device.revoked_at is not None


def remember(response: HttpResponseBase, token: str) -> None:
    """Let the device keep its token, for a year from now."""
    response.set_cookie(
        COOKIE,
        token,
        max_age=KEPT_S,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
