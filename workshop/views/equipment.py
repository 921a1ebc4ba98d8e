"""Equipment: what there is, when it lapses. Everybody sees it, managers change it.

Withdrawing a piece is a page of the jobs, because every open job that uses it is told.
"""

from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET, require_http_methods

from workshop import actions, clock, queries
from workshop.equipment import KINDS
from workshop.forms import EquipmentForm, LastTestForm
from workshop.people import MANAGER
from workshop.registers import EquipmentInfo
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.answer import done, page, sent, signed_person


def _known(equipment_id: UUID) -> EquipmentInfo:
    """Give the piece with today's reason, or answer 404."""
    info = queries.equipment_piece(equipment_id, queries.local_day(clock.now()))
    if info is None:
        raise Http404
    return info


def _in_use(equipment_id: UUID) -> EquipmentInfo:
    """Give a piece that is not withdrawn, or answer 404."""
    info = _known(equipment_id)
    if info.withdrawn_at is not None:
        raise Http404
    return info


@require_GET
@signed_on()
def equipment(request: ShopRequest) -> HttpResponse:
    """List the equipment in use, what may not be used first, then by due date."""
    today = queries.local_day(clock.now())
    pieces = queries.all_equipment(today, with_withdrawn=True)
    in_use = [piece for piece in pieces if piece.withdrawn_at is None]
    in_use.sort(key=lambda piece: (piece.usable, piece.due_on is None, piece.due_on or today))
    return page(
        request,
        "equipment",
        pieces=in_use,
        withdrawn=[piece for piece in pieces if piece.withdrawn_at is not None],
        kinds=KINDS.values(),
    )


@require_GET
@signed_on()
def piece(request: ShopRequest, equipment_id: UUID) -> HttpResponse:
    """Show one piece with its ratings."""
    info = _known(equipment_id)
    fields = KINDS[info.kind].ratings.model_fields if info.kind in KINDS else {}
    titles = {name: rating.title or name for name, rating in fields.items()}
    ratings = [(titles.get(name, name), name) for name in info.ratings]
    return page(request, "equipment_piece", shown=info, ratings=ratings)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def add(request: ShopRequest, kind: str) -> HttpResponse:
    """Add a piece of one kind."""
    if kind not in KINDS:
        raise Http404
    me = signed_person(request)
    form = sent(request, EquipmentForm, kind=kind)
    added = done(form, lambda: actions.add_equipment(details=form.details(), by=me.id))
    if added is None:
        return page(request, "equipment_add", form, kind=KINDS[kind])
    return redirect("shop:equipment_piece", added)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER)
def record_test(request: ShopRequest, equipment_id: UUID) -> HttpResponse:
    """Enter a new test or calibration."""
    info = _in_use(equipment_id)
    me = signed_person(request)
    form = sent(request, LastTestForm, kind=info.kind, initial={"issued": info.issued})

    def enter() -> str:
        actions.record_test(equipment_id=info.id, test=form.test(), by=me.id)
        return info.id

    if done(form, enter) is None:
        return page(request, "equipment_test", form, shown=info)
    return redirect("shop:equipment_piece", info.id)
