"""Backups: what there is, one made now, one taken away on a stick. For managers."""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

import segno
from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.utils.translation import gettext, gettext_lazy
from django.views.decorators.http import require_GET, require_POST

from workshop import clock
from workshop.backups import backup_state, checking, keys, shelf
from workshop.backups.daily import begin_by_hand
from workshop.backups.manifest import BEFORE_MIGRATION, BY_HAND, DAILY, Manifest
from workshop.backups.places import places
from workshop.backups.refusal import BackupRefused
from workshop.backups.shelf import OnShelf
from workshop.figures_text import moment
from workshop.people import MANAGER
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.answer import page
from workshop.wire import travels_open

WAIT_S: Final = 3
"""How long the button waits for a small backup before the page says that it goes on."""

SEARCH_LENGTH: Final = 60
REASONS: Final = {
    DAILY: gettext_lazy("daily"),
    BEFORE_MIGRATION: gettext_lazy("before an update"),
    BY_HAND: gettext_lazy("by hand"),
}
STATES: Final = {"good": gettext_lazy("checked"), "failed": gettext_lazy("failed the check")}


@dataclass(frozen=True, slots=True)
class Row:
    """One backup as the list shows it."""

    kept: OnShelf
    why: str
    size_mb: float
    told: Manifest | None


@lru_cache(maxsize=256)
def _told(path: Path, size_bytes: int) -> Manifest | None:
    """Read what a backup tells about itself; a file never changes under its name."""
    del size_bytes
    try:
        with checking.opened(path, keys.known_key(places().data)) as (_archive, manifest):
            return manifest
    except BackupRefused:
        return None


def _row(kept: OnShelf) -> Row:
    """Read one row."""
    told = None if kept.failed else _told(kept.path, kept.size_bytes)
    return Row(kept, str(REASONS[kept.reason]), kept.size_bytes / 1_000_000, told)


def _fits(kept: OnShelf, request: ShopRequest) -> bool:
    """Say whether a backup is among those asked for."""
    asked = request.GET.get("why", "")
    state = request.GET.get("state", "")
    words = " ".join(request.GET.get("q", "")[:SEARCH_LENGTH].lower().split())
    when = moment(kept.made_at, request.shop.zone).replace("\u00a0", " ")
    text = f"{when} {kept.made_at:%Y-%m-%d} {kept.name}".lower()
    return (
        (asked not in REASONS or kept.reason == asked)
        and (state not in STATES or kept.failed == (state == "failed"))
        and words in text
    )


@require_GET
@signed_on(MANAGER, office=True)
def backups(request: ShopRequest) -> HttpResponse:
    """List the backups, newest first, with how they stand."""
    here = places()
    workshop_id = request.shop.workshop_id.replace("-", "")
    kept = shelf.kept_in(here.shelf, workshop_id)
    return page(
        request,
        "backups",
        rows=[_row(each) for each in kept if _fits(each, request)],
        total=len(kept),
        backup=backup_state(clock.now()),
        is_busy=shelf.is_busy(here),
        on_server=here.on_server,
        reasons=REASONS.items(),
        states=STATES.items(),
        asked={name: request.GET.get(name, "")[:SEARCH_LENGTH] for name in ("q", "why", "state")},
    )


@require_POST
@signed_on(MANAGER, office=True)
def make_now(request: ShopRequest) -> HttpResponseBase:
    """Begin a backup; the list says what came of it."""
    thread = begin_by_hand(places())
    thread.join(WAIT_S)
    if not thread.is_alive() and not backup_state(clock.now()).failed_at:
        messages.success(request, gettext("Backup made and checked."))
    return redirect("shop:backups")


@require_GET
@signed_on(MANAGER, office=True)
def key_sheet(request: ShopRequest) -> HttpResponseBase:
    """Show the key of the backups to be printed; not over a connection that others can read."""
    here = places()
    if travels_open(request):
        title = gettext("Not over this connection")
        return page(request, "backup_not_sent", title=title, path=here.data / keys.KEY_NAME)
    words = keys.words_of(keys.key_of(here.data))
    code = segno.make(words, micro=False).svg_data_uri(scale=4, border=2)
    return page(request, "backup_key", words=words, code=code, shop_name=request.shop.name)


@require_GET
@signed_on(MANAGER, office=True)
def download(request: ShopRequest, name: str) -> HttpResponseBase:
    """Hand out one backup; not over a connection that others can read, for it holds the keys."""
    here = places()
    workshop_id = request.shop.workshop_id.replace("-", "")
    kept = {each.name: each for each in shelf.kept_in(here.shelf, workshop_id)}
    if name not in kept:
        raise Http404
    if travels_open(request):
        title = gettext("Not over this connection")
        return page(request, "backup_not_sent", title=title, path=kept[name].path)
    file = kept[name].path
    return FileResponse(file.open("rb"), as_attachment=True, filename=file.name)
