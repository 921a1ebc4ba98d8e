"""Withdrawing and correcting equipment, which every open job that uses it is told of."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from jobs.actions.upkeep import correct_equipment, withdraw_equipment
from jobs.queries.belonging import open_jobs_using
from jobs.views.forms import WithdrawForm
from workshop import clock, errors
from workshop import queries as shop
from workshop.equipment import KINDS
from workshop.forms import CorrectionForm, ratings_as_typed
from workshop.registers import EquipmentInfo
from workshop.sign_on import ShopRequest, signed_on
from workshop.views.answer import done, sent, signed_person

__all__ = ["correct", "withdraw"]


def _in_use(equipment_id: UUID) -> EquipmentInfo:
    """Give a piece that is not withdrawn, or answer 404."""
    piece = shop.equipment_piece(equipment_id, shop.local_day(clock.now()))
    if piece is None or piece.withdrawn_at is not None or piece.kind not in KINDS:
        raise Http404
    return piece


@require_http_methods(["GET", "POST"])
@signed_on("manager")
def correct(request: ShopRequest, equipment_id: UUID) -> HttpResponse:
    """Correct label, serial or ratings, with a reason, and say how many open jobs were told."""
    piece, me, now = _in_use(equipment_id), signed_person(request), clock.now()
    before = {"label": piece.label, "serial": piece.serial, **ratings_as_typed(piece.ratings)}
    form = sent(request, CorrectionForm, kind=piece.kind, initial=before)

    def enter() -> int:
        why = form.cleaned_data["why"]
        return correct_equipment(
            equipment_id=piece.id, details=form.details(), why=why, by=me.id, now=now
        )

    told = done(form, enter)
    if told is None:
        context = {"form": form, "shown": piece, "jobs": open_jobs_using(piece.id, now=now)}
        status = 422 if form.is_bound else 200
        return render(request, "jobs/correct_equipment.html", context, status=status)
    if told:
        said = ngettext(
            "{count} open job has to pick {label} again.",
            "{count} open jobs have to pick {label} again.",
            told,
        )
        messages.success(request, said.format(label=piece.label, count=told))
    return redirect("shop:equipment_piece", piece.id)


@require_http_methods(["GET", "POST"])
@signed_on("manager", "technician")
def withdraw(request: ShopRequest, equipment_id: str) -> HttpResponse:
    """Ask why, withdraw the piece, and say how many open jobs were told."""
    now = clock.now()
    piece = shop.equipment_piece(equipment_id, shop.local_day(now))
    if piece is None or request.person is None:
        raise Http404
    form = WithdrawForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data["reason"]
        try:
            told = withdraw_equipment(
                equipment_id=piece.id, reason=reason, by=request.person.id, now=now
            )
        except errors.Refused as refused:
            form.add_error(None, str(refused))
        else:
            said = ngettext(
                "{label} is withdrawn; {count} open job was told.",
                "{label} is withdrawn; {count} open jobs were told.",
                told,
            )
            messages.success(request, said.format(label=piece.label, count=told))
            return redirect("shop:equipment_piece", piece.id)
    status = 422 if request.method == "POST" else 200
    told_then = open_jobs_using(piece.id, now=now)
    context = {"form": form, "piece": piece, "jobs": told_then}
    return render(request, "jobs/withdraw.html", context, status=status)
