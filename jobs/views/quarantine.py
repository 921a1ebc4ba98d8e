"""Pages of the watches on removed modules: the list, one watch, its checks and its end."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from jobs.actions.quarantine import add_check, end_watch
from jobs.core.reason import InputRefused
from jobs.core.watch import Word
from jobs.queries.disposal import awaiting
from jobs.queries.quarantine import WatchInfo, watch, watches
from jobs.report.wording import Wording
from jobs.views.watch_forms import CheckForm, EndForm
from jobs.views.watch_page import offered_endings, watch_page, watch_row
from workshop import clock
from workshop import queries as shop
from workshop.people import PersonInfo
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["check", "end", "watch_of", "watches_page"]


def _found(request: ShopRequest, watch_id: str) -> tuple[WatchInfo, PersonInfo]:
    info = watch(watch_id, clock.now())
    if info is None or request.person is None:
        raise Http404
    return info, request.person


def _wording(info: WatchInfo) -> Wording:
    return Wording(zone=shop.shop().zone, names=info.names)


def _page(
    request: ShopRequest,
    info: WatchInfo,
    reader: PersonInfo,
    *,
    check_form: CheckForm | None = None,
    end_form: EndForm | None = None,
) -> HttpResponse:
    """Show a watch, with whichever form was refused as it was sent."""
    names = () if info.last is None else [point.name for point in info.last.points]
    context = {
        "page": watch_page(info, reader, _wording(info), clock.now()),
        "check_form": check_form or CheckForm(names=names),
        "end_form": end_form or EndForm(offered=offered_endings(info)),
    }
    status = 422 if check_form or end_form else 200
    return render(request, "jobs/watch.html", context, status=status)


def _done(info: WatchInfo) -> HttpResponse:
    """Go to the top of the page, where danger is said first, not back to the form."""
    return redirect(reverse("jobs:watch", args=(info.id,)) + "#top")


@require_GET
@signed_on()
def watches_page(request: ShopRequest) -> HttpResponse:
    """Show the watches that run, or those that ended; state and search kept in the address."""
    search, ended = request.GET.get("q", "")[:100], request.GET.get("state") == "ended"
    found = watches(clock.now(), ended=ended, search=search.replace("\0", ""))
    context = {
        "rows": [watch_row(info) for info in found],
        "search": search,
        "ended": ended,
        "awaiting": () if ended or search else awaiting(clock.now()),
    }
    return render(request, "jobs/watches.html", context)


@require_GET
@signed_on()
def watch_of(request: ShopRequest, watch_id: str) -> HttpResponse:
    """Show one watch: how the module is, the next check, what was measured, how it ends."""
    return _page(request, *_found(request, watch_id))


@require_POST
@signed_on()
def check(request: ShopRequest, watch_id: str) -> HttpResponse:
    """Take a check; what was typed stays when something is refused."""
    info, reader = _found(request, watch_id)
    form = CheckForm(request.POST)
    if form.is_valid():
        try:
            word = add_check(new=form.new_check(info.id), by=reader.id, now=clock.now())
        except InputRefused as refused:
            form.refuse(refused.blocker, _wording(info).said(refused.blocker))
        else:
            if word is Word.CALM:
                messages.success(request, gettext("Check entered: calm."))
            return _done(info)
    return _page(request, info, reader, check_form=form)


@require_POST
@signed_on()
def end(request: ShopRequest, watch_id: str) -> HttpResponse:
    """End a watch; what was typed stays when something is refused."""
    info, reader = _found(request, watch_id)
    form = EndForm(request.POST, offered=offered_endings(info))
    if form.is_valid():
        try:
            end_watch(
                ending=form.ending(info.id),
                by=reader.id,
                pin=form.cleaned_data["pin"],
                now=clock.now(),
            )
        except InputRefused as refused:
            form.refuse(refused.blocker, _wording(info).said(refused.blocker))
        else:
            messages.success(request, gettext("The watch is ended."))
            return _done(info)
    return _page(request, info, reader, end_form=form)
