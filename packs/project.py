"""What the views of this app need from the project around it, named by string.

The clock and the question "who is at this tablet" belong to another app, which this one may
not import: as with addresses and settings, a name in a string is the only thread upwards.
"""

from collections.abc import Callable
from datetime import datetime
from typing import Any, Final, cast
from uuid import UUID

from django.http import HttpRequest, HttpResponseBase
from django.utils import timezone
from django.utils.module_loading import import_string

CLOCK: Final = "workshop.clock.now"
"""Dotted path of the function that says what time it is."""

SIGNED_ON: Final = "workshop.sign_on.signed_on"
"""Dotted path of the decorator that asks who is there."""

MANAGER: Final = "manager"
TECHNICIAN: Final = "technician"

View = Callable[..., HttpResponseBase]


def local_now() -> datetime:
    """Return the time in the workshop's zone, so that its date is the one people go by."""
    now = cast("Callable[[], datetime]", import_string(CLOCK))
    return timezone.localtime(now())


def signed_on(*roles: str) -> Callable[[View], View]:
    """Let a page be seen only by somebody signed on, with one of the roles if any are named."""
    decorator = cast("Callable[..., Callable[[View], View]]", import_string(SIGNED_ON))
    return decorator(*roles)


def person_id(request: HttpRequest) -> UUID:
    """Return the key of the person who is signed on."""
    person: Any = getattr(request, "person", None)
    return UUID(str(person.id))


def is_role(request: HttpRequest, *roles: str) -> bool:
    """Say whether the person signed on has one of the roles."""
    person: Any = getattr(request, "person", None)
    return person is not None and person.role in roles
