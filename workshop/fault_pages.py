"""Answers when something went wrong: 400, 403, 404, 500, 507 and an expired form.

A fault of ours is logged once under a short number, and the person is shown that number.
The pages are templates/400.html … 500.html; where even the template fails, plain text answers.
"""

import logging
import secrets
import sys
from pathlib import Path

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template import TemplateDoesNotExist
from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from workshop.disk_full import is_disk_full

LOGGER = logging.getLogger("coldbus.faults")

# No letter or digit that can be misheard over the telephone.
NUMBER_ALPHABET = "ACDEFHJKMNPQRTVWXY34679"
NUMBER_LENGTH = 6


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer a request that cannot be read."""
    del exception
    text = _("The server could not read this request. Go back, reload the page and try again.")
    return _answer(request, 400, text)


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer a request that this person or tablet may not make."""
    del exception
    return _answer(request, 403, _("You may not open this page. Sign on, or ask the manager."))


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer an address that leads nowhere."""
    del exception
    return _answer(request, 404, _("There is no such page. Check the address, or go to Today."))


def form_expired(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Answer a form whose token is missing or no longer valid."""
    LOGGER.info("form token refused on %s: %s", request.path, reason)
    text = _("This page has been open too long. Nothing was saved: reload it and send it again.")
    return _answer(request, 403, text)


def server_error(request: HttpRequest) -> HttpResponse:
    """Log the fault being handled under a new number, and answer with that number.

    A full disk has an answer of its own: the tablet keeps its entries and says why.
    """
    if is_disk_full(sys.exc_info()[1], Path(settings.COLDBUS_DATA)):
        return _disk_full(request)
    number = "".join(secrets.choice(NUMBER_ALPHABET) for _place in range(NUMBER_LENGTH))
    LOGGER.error("fault %s on %s %s", number, request.method, request.path, exc_info=sys.exc_info())
    text = _("The server made a mistake. Nothing was lost; tell the manager this number: {number}")
    return _answer(request, 500, text.format(number=number), number)


def _disk_full(request: HttpRequest) -> HttpResponse:
    """Say that nothing could be written, and that nothing that was entered is lost."""
    LOGGER.error("the disk is full: %s %s was not recorded", request.method, request.path)
    text = _(
        "Nothing of this was recorded. What was entered on a tablet stays there and is sent again "
        "once there is room. Tell the manager to make room on the server’s disk."
    )
    return _answer(request, 507, text)


def _answer(request: HttpRequest, status: int, text: str, number: str = "") -> HttpResponse:
    """Return JSON to a script that asked for it, the page of that status to anybody else."""
    if request.headers.get("Accept", "").startswith("application/json"):
        return JsonResponse({"status": status, "text": text, "number": number}, status=status)
    try:
        page = render_to_string(f"{status}.html", {"text": text, "number": number})
    except TemplateDoesNotExist:
        return HttpResponse(text, status=status, content_type="text/plain; charset=utf-8")
    return HttpResponse(page, status=status)
