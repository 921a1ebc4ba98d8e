"""Headers that every answer carries: the content policy, caching, our own mark; and what is let in.

Who is signed on is workshop/sign_on.py; pages for faults are workshop/fault_pages.py.
"""

import re
from collections.abc import Callable
from typing import Final

from csp.middleware import CSPMiddleware, PolicyParts
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponseBase
from django.middleware.gzip import GZipMiddleware
from django.utils.cache import patch_vary_headers
from typing_extensions import override

from workshop.import_map import import_map_hash

# The tablet keeps an answer only when it bears this mark: a captive portal's page does not.
MARK_HEADER = "X-Coldbus"

TEXT_KINDS = ("text/", "application/json")
UNSTORABLE: Final = re.compile("[\x00\ud800-\udfff]")
"""What no database keeps as text and no answer can be written in: NUL and half a character."""

# What a page of ours needs of the tablet is its camera; nothing else may be asked for, by nobody.
PERMISSIONS = "camera=(self), geolocation=(), microphone=(), payment=(), usb=(), display-capture=()"

Handler = Callable[[HttpRequest], HttpResponseBase]


class ContentPolicyMiddleware(CSPMiddleware):
    """The policy of the settings, and leave for the one inline script: the import map."""

    @override
    def get_policy_parts(
        self, request: HttpRequest, response: HttpResponseBase, report_only: bool = False
    ) -> PolicyParts:
        """Return the policy with the import map's hash added to what may run."""
        parts = super().get_policy_parts(request, response, report_only)
        parts.update = {**(parts.update or {}), "script-src": [import_map_hash()]}
        return parts


class TextCompressionMiddleware(GZipMiddleware):
    """Compresses pages and JSON; pictures, PDF and archives are compressed already."""

    @override
    def process_response(
        self, request: HttpRequest, response: HttpResponseBase
    ) -> HttpResponseBase:
        """Return the answer, smaller where it is text."""
        kind = response.headers.get("Content-Type", "")
        if not kind.startswith(TEXT_KINDS):
            return response
        return super().process_response(request, response)


class AnswerHeadersMiddleware:
    """Marks answers as ours and keeps pages out of caches that others could read."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Pass the request on and complete the headers of the answer."""
        response = self.get_response(request)
        response.headers.setdefault(MARK_HEADER, "1")
        response.headers.setdefault("Cache-Control", "no-store")
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        # A fragment and the page around it share an address.
        patch_vary_headers(response, ("HX-Request",))
        return response


class StorableTextMiddleware:
    """Keeps out of addresses and cookies what no database stores, before any view asks with it.

    What stands in a form or a search is judged by its field, which says what is wrong with it.
    """

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Find no such address; leave out cookies that are not ours to read."""
        if UNSTORABLE.search(request.path_info):
            raise Http404
        for name, value in list(request.COOKIES.items()):
            if UNSTORABLE.search(value):
                del request.COOKIES[name]
        return self.get_response(request)


class SchemeCookiesMiddleware:
    """Keeps the cookies of https apart from those of plain http, which share host and names.

    Over https they are bound to this very host and never sent in clear; plain http beside it
    cannot set or read them.
    """

    PREFIX = "__Host-"

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response
        self.names = (
            settings.SESSION_COOKIE_NAME,
            settings.CSRF_COOKIE_NAME,
            settings.DEVICE_COOKIE_NAME,
        )

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Rename these cookies of an https request on their way in and out."""
        if not request.is_secure():
            return self.get_response(request)
        for name in self.names:
            request.COOKIES.pop(name, None)
            if self.PREFIX + name in request.COOKIES:
                request.COOKIES[name] = request.COOKIES[self.PREFIX + name]
        response = self.get_response(request)
        for name in self.names:
            if name in response.cookies:
                self._bind(response, name)
        return response

    def _bind(self, response: HttpResponseBase, name: str) -> None:
        """Set a cookie under its bound name instead."""
        plain = response.cookies.pop(name)
        bound = self.PREFIX + name
        response.cookies[bound] = plain.value
        for key, value in plain.items():
            if key != "domain":
                response.cookies[bound][key] = value
        response.cookies[bound]["secure"] = True
        response.cookies[bound]["path"] = "/"
