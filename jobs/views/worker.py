"""What lets a tablet open its pages without the network: its worker, and what the worker keeps.

The worker has to come from the root, or it may not answer for the pages; its script is
``static/js/sw.js`` behind one line that names the release and the files of the shell.
"""

import base64
import hashlib
import json
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from jobs.steps import STEPS
from workshop.sign_on import ShopRequest

__all__ = ["app_manifest", "not_reachable", "worker"]

FOLDERS: Final = (("js", "*.js"), ("css", "*.css"), ("img", "*.svg"))
OF_PACKAGES: Final = ("django_htmx/htmx-2.min.js",)
WORKER: Final = "js/sw.js"


def _names() -> list[str]:
    folder = Path(settings.BASE_DIR) / "static"
    own = (
        path.relative_to(folder).as_posix()
        for name, pattern in FOLDERS
        for path in sorted((folder / name).rglob(pattern))
    )
    return [*(name for name in own if name != WORKER), *OF_PACKAGES]


def served(name: str) -> bytes:
    """Give the bytes that are served under the address of a file."""
    stored_name = getattr(staticfiles_storage, "stored_name", None)
    if stored_name is not None:
        return Path(staticfiles_storage.path(stored_name(name))).read_bytes()
    found = finders.find(name)
    return Path(found).read_bytes() if found else b""


@lru_cache(maxsize=1)
def shell() -> tuple[tuple[str, str], ...]:
    """Give address and digest of each file without which no page works.

    By its digest the tablet knows that a file came from here, and not from a captive portal.
    """
    found = []
    for name in _names():
        digest = base64.b64encode(hashlib.sha256(served(name)).digest()).decode()
        found.append((static(name), f"sha256-{digest}"))
    return tuple(found)


@lru_cache(maxsize=8)
def script(language: str) -> str:
    """Give the worker; any file of the shell that changes makes another worker of it.

    So does the shop's language: the page that stands for what is not reachable is kept in it.
    """
    files = shell()
    release = hashlib.sha256(json.dumps([language, files]).encode()).hexdigest()[:12]
    told: dict[str, Any] = {
        "release": release,
        "shell": files,
        "steps": [step.slug for step in STEPS],
        "static": settings.STATIC_URL,
        "notReachable": reverse("jobs:not_reachable"),
    }
    return f"self.COLDBUS = {json.dumps(told)};\n{served(WORKER).decode()}"


@require_GET
def worker(request: ShopRequest) -> HttpResponse:
    """Give the worker, which the browser compares with the one it has."""
    answer = HttpResponse(
        script(request.shop.language), content_type="text/javascript; charset=utf-8"
    )
    answer.headers["Cache-Control"] = "no-cache"
    return answer


@require_GET
def not_reachable(request: HttpRequest) -> HttpResponse:
    """Show the page that stands for one that is neither reachable nor kept."""
    return render(request, "jobs/not_reachable.html")


@require_GET
def app_manifest(_request: HttpRequest) -> JsonResponse:
    """Say how the workshop's pages stand on a tablet's home screen."""
    icon = {"src": static("img/mark.svg"), "sizes": "any", "type": "image/svg+xml"}
    told = {
        "name": "Coldbus",
        "short_name": "Coldbus",
        "description": gettext("Isolation repair of high-voltage batteries, step by step."),
        "id": "/",
        "start_url": reverse("jobs:today"),
        "scope": "/",
        "display": "standalone",
        "background_color": "#f5f2ea",
        "theme_color": "#1b2327",
        "icons": [icon],
    }
    return JsonResponse(told, content_type="application/manifest+json")
