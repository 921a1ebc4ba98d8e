"""The page on which a tablet begins: the certificate, the way in, and a test of this tablet."""

from pathlib import Path
from typing import Final

import segno
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from workshop import clock
from workshop.downloads import document
from workshop.serving import data_folder
from workshop.serving.authority import keeping
from workshop.sign_on import PLAIN_COOKIE
from workshop.wire import https_port

__all__ = ["certificate", "encrypted_address", "go_on_plain", "start"]

YEAR_S: Final = 366 * 86_400
FILE_NAME: Final = "coldbus-workshop.crt"
SOON_DAYS: Final = 30
"""Days before its end from which the page says that the server's certificate ends [d]."""


def encrypted_address(request: HttpRequest) -> str:
    """Give the https address of the host by which this page was asked; empty without https."""
    port = https_port()
    host = request.get_host().rpartition(":")[0] or request.get_host()
    host = host if not host.isdecimal() else request.get_host()
    return "" if port is None else f"https://{host}:{port}/"


def _code(address: str) -> str:
    return segno.make(address, micro=False).svg_data_uri(scale=4, border=2) if address else ""


def _told() -> keeping.Told | None:
    return keeping.told(Path(settings.COLDBUS_DATA))


@require_GET
def start(request: HttpRequest) -> HttpResponse:
    """Show how a tablet comes to trust the server, and test whether it does."""
    encrypted = encrypted_address(request)
    told = _told()
    until = None if told is None else told.server_until
    context = {
        "encrypted": encrypted,
        "secure": request.is_secure(),
        "here": request.build_absolute_uri("/start/"),
        "code": _code(f"{encrypted}start/" if encrypted else request.build_absolute_uri("/")),
        "told": told,
        "ends_soon": until is not None and (until - clock.now()).days < SOON_DAYS,
    }
    return render(request, "workshop/start.html", context)


@require_GET
def certificate(_request: HttpRequest) -> HttpResponse:
    """Give the authority's certificate, which is no secret, for the tablet to install."""
    file = Path(settings.COLDBUS_DATA) / data_folder.AUTHORITY_NAME
    if not file.is_file():
        raise Http404
    return document(file.read_bytes(), "application/x-x509-ca-cert", FILE_NAME)


@require_POST
def go_on_plain(_request: HttpRequest) -> HttpResponse:
    """Remember that this tablet works over plain http, and lead it to the sign-on."""
    answer = redirect("shop:sign_on")
    answer.set_cookie(PLAIN_COOKIE, "1", max_age=YEAR_S, httponly=True, samesite="Lax")
    return answer
