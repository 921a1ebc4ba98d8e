"""The page of a tablet, and what it asks by itself: pages to keep, and how the server stands."""

import uuid

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from jobs.actions.tablets import name_tablet
from jobs.queries.tablets import open_pages, tablet_name
from workshop import clock
from workshop.sign_on import ShopRequest
from workshop.tablet_mark import epoch, release

__all__ = ["state", "tablet"]

MOST_JOBS = 40
"""More jobs than this no tablet keeps."""


def _asked(request: HttpRequest) -> list[uuid.UUID]:
    """Read the jobs asked for; what is no identifier is left out."""
    found = []
    for text in request.GET.get("jobs", "").split(",")[:MOST_JOBS]:
        try:
            found.append(uuid.UUID(text))
        except ValueError:
            continue
    return found


@require_GET
def state(request: ShopRequest) -> JsonResponse:
    """Say how the server stands, and which pages of this tablet's open jobs may be kept."""
    person = request.person
    return JsonResponse(
        {
            "epoch": epoch(),
            "release": release(),
            "now": clock.now().isoformat(),
            "person": None if person is None else person.id,
            "name": "" if person is None else tablet_name(request.GET.get("device", "")[:64]),
            "pages": {} if person is None else open_pages(_asked(request), person),
        }
    )


@require_http_methods(["GET", "HEAD", "POST"])
def tablet(request: ShopRequest) -> HttpResponse:
    """Show what waits on this tablet; take a name for it from somebody signed on."""
    if request.method != "POST":
        return render(request, "jobs/tablet.html")
    try:
        device = str(uuid.UUID(request.POST.get("device", "")))
    except ValueError:
        device = ""
    if request.person is not None and device:
        name_tablet(device, request.POST.get("name", ""), now=clock.now())
    return redirect("jobs:tablet")
