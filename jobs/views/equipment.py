"""Withdrawing equipment, which every open job that uses it is told of."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from jobs.actions.upkeep import withdraw_equipment
from jobs.queries.belonging import open_jobs_using
from jobs.views.forms import WithdrawForm
from workshop import clock, errors
from workshop import queries as shop
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["withdraw"]


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
