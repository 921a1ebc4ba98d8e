"""Whether what a page shows and takes travels unencrypted; pages then bear a small mark."""

from django.conf import settings
from django.http import HttpRequest

from workshop.serving.network import is_open_wire


def travels_open(request: HttpRequest) -> bool:
    """Say whether somebody on the network could read along."""
    encrypted = request.is_secure() or settings.COLDBUS_HTTPS
    return is_open_wire(str(request.META.get("REMOTE_ADDR", "")), encrypted=encrypted)


def mark(request: HttpRequest) -> dict[str, bool]:
    """Give every template ``open_wire``."""
    return {"open_wire": travels_open(request)}
