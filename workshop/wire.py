"""Whether what a page shows and takes travels unencrypted; pages then bear a small mark."""

import os
from typing import Final

from django.conf import settings
from django.http import HttpRequest

from workshop.serving.network import is_open_wire

ENCRYPTED_VARIABLE: Final = "COLDBUS_ENCRYPTED_PORT"
"""Port of https, where the server offers it beside plain http; set by the server that starts it."""


def https_port() -> int | None:
    """Give the port of https where it is offered beside plain http."""
    text = os.environ.get(ENCRYPTED_VARIABLE, "")
    return int(text) if text.isdecimal() else None


def travels_open(request: HttpRequest) -> bool:
    """Say whether somebody on the network could read along."""
    encrypted = request.is_secure() or settings.COLDBUS_HTTPS
    return is_open_wire(str(request.META.get("REMOTE_ADDR", "")), encrypted=encrypted)


def mark(request: HttpRequest) -> dict[str, bool]:
    """Give every template ``open_wire``."""
    return {"open_wire": travels_open(request)}
