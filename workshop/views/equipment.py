"""Equipment: what there is, when it lapses. Everybody sees it, managers change it.

Withdrawing and correcting a piece are pages of the jobs: every open job that uses it is told.
"""

from typing import Any
from uuid import UUID

from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods

from workshop import actions, clock, queries
from workshop.equipment import KINDS, interval_of
from workshop.forms import CorrectionForm, EquipmentForm, LastTestForm
from workshop.people import MANAGER
from workshop.registers import EquipmentInfo
from workshop.shelf import IN_USE, STATES, Wanted, meant, state_of
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.answer import done, page, search_of, sent, signed_person
from workshop.views.certificate import addresses, answer_file, file_sent
from workshop.views.history import labels, told


def _known(equipment_id: UUID) -> EquipmentInfo:
    """Give the piece with today's reason, or answer 404."""
    info = queries.equipment_piece(equipment_id, queries.local_day(clock.now()))
    if info is None:
        raise Http404
    return info


def _in_use(equipment_id: UUID) -> EquipmentInfo:
    """Give a piece that is not withdrawn, or answer 404."""
    info = _known(equipment_id)
    if info.withdrawn_at is not None or info.kind not in KINDS:
        raise Http404
    return info


def _listed(request: ShopRequest) -> dict[str, Any]:
    """Give the rows that the address asks for, with what it asked."""
    today = queries.local_day(clock.now())
    pieces = queries.all_equipment(today, with_withdrawn=True)
    kind, state = request.GET.get("kind", ""), request.GET.get("state", IN_USE)
    wanted = Wanted(search=search_of(request), kind=kind, state=state)
    found = meant(pieces, wanted, today)
    return {
        "rows": [(piece, state_of(piece, today)) for piece in found],
        "wanted": wanted,
        "kinds": KINDS.values(),
        "states": STATES.items(),
        "state_titles": {code: gettext(title) for code, title in STATES.items()},
        "today": today,
        "query": request.GET.urlencode(),
    }


@require_GET
@signed_on()
def equipment(request: ShopRequest) -> HttpResponse:
    """List the equipment that a filter means, due soonest first."""
    return page(request, "equipment", **_listed(request))


@require_GET
@signed_on()
def due_list(request: ShopRequest) -> HttpResponse:
    """Show the same list for printing, with room for a tick and a signature."""
    return page(request, "equipment_due", **_listed(request))


def _titles(info: EquipmentInfo) -> dict[str, str]:
    """Give what the ratings of a piece are called."""
    fields = KINDS[info.kind].ratings.model_fields if info.kind in KINDS else {}
    return {name: gettext(rating.title or name) for name, rating in fields.items()}


@require_GET
@signed_on()
def piece(request: ShopRequest, equipment_id: UUID) -> HttpResponse:
    """Show one piece with its ratings, its tests and what else was done to it."""
    info = _known(equipment_id)
    titles = _titles(info)
    certificate = addresses("shop:equipment_certificate", info.id)
    names = {**labels(CorrectionForm), **titles, "label": gettext("Label")}
    return page(
        request,
        "equipment_piece",
        shown=info,
        state=state_of(info, queries.local_day(clock.now())),
        ratings=[(titles.get(name, name), name) for name in info.ratings],
        interval=interval_of(info.kind, issued=info.issued),
        history=told(queries.history(info.id), names, certificate),
    )


@require_GET
@signed_on()
def certificate(_request: ShopRequest, equipment_id: UUID, sha256: str) -> HttpResponseBase:
    """Give the certificate of a test as a download."""
    return answer_file(equipment_id, sha256, _known(equipment_id).label)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def add(request: ShopRequest, kind: str) -> HttpResponse:
    """Add a piece of one kind."""
    if kind not in KINDS:
        raise Http404
    me = signed_person(request)
    form = sent(request, EquipmentForm, kind=kind)

    def enter() -> str:
        return actions.add_equipment(details=form.entered(), by=me.id, file=file_sent(form))

    added = done(form, enter)
    if added is None:
        return page(request, "equipment_add", form, kind=KINDS[kind])
    return redirect("shop:equipment_piece", added)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def record_test(request: ShopRequest, equipment_id: UUID) -> HttpResponse:
    """Enter a new test or calibration, with its certificate."""
    info = _in_use(equipment_id)
    me = signed_person(request)
    form = sent(request, LastTestForm, kind=info.kind, initial={"issued": info.issued})

    def enter() -> str:
        actions.record_test(equipment_id=info.id, test=form.test(), by=me.id, file=file_sent(form))
        return info.id

    if done(form, enter) is None:
        return page(request, "equipment_test", form, shown=info)
    return redirect("shop:equipment_piece", info.id)
