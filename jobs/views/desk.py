"""A job's desk: where car and keys are, who pays, calls, questions, notes, and their history."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from jobs.actions.desk import settle
from jobs.core.desk import PAYERS, WARRANTIES, Desk, DeskEvent, Note, desk_of
from jobs.core.reason import Blocker, InputRefused
from jobs.core.record import Record
from jobs.queries.desk import KeysKept, events_of, keys_in, keys_said
from jobs.queries.records import JobInfo
from jobs.report.message import Case, messages_of
from jobs.report.wording import Wording
from jobs.views.desk_forms import FORMS, DeskForm
from jobs.views.desk_words import keys_words, lines_of, names_of, place_words
from jobs.views.job import found
from workshop import clock
from workshop import queries as shop
from workshop.finding import dialled
from workshop.people import TECHNICIAN
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["act", "desk_page", "real_job", "sentence", "settle_one"]


def real_job(job_id: str) -> tuple[JobInfo, Record]:
    """Give a job and its record; a practice job has no desk."""
    info, record = found(job_id)
    if info.practice:
        raise Http404
    return info, record


def sentence(blocker: Blocker) -> str:
    """Say a refusal of the desk."""
    here = shop.shop()
    return Wording(zone=here.zone, names=names_of(), currency=here.currency).said(blocker)


@dataclass(frozen=True, slots=True)
class _Known:
    """What a desk's page stands on."""

    info: JobInfo
    record: Record
    events: tuple[DeskEvent, ...]
    state: Desk
    kept: KeysKept | None


def _known(job_id: str) -> _Known:
    info, record = real_job(job_id)
    events = events_of(job_id)
    return _Known(info, record, events, desk_of(events), keys_in(record))


def _form(act: str, known: _Known, data: Any = None) -> DeskForm:
    form = FORMS[act](
        data,
        auto_id=f"id_{act}_%s",
        job=known.info,
        state=known.state,
        people=shop.people(),
    )
    if act == "move" and known.kept is not None:
        del form.fields["hook"]
    return form


@dataclass(frozen=True, slots=True)
class _Standing:
    """A question or note that stands, in words."""

    key: str
    text: str
    who: str
    at: datetime


def _standing(notes: tuple[Note, ...], names: Mapping[str, str]) -> tuple[_Standing, ...]:
    gone = gettext("somebody who has left")
    return tuple(
        _Standing(e.event.key, e.text, names.get(e.event.person, gone), e.event.at) for e in notes
    )


def _page(
    request: ShopRequest, known: _Known, sent: str = "", bound: DeskForm | None = None
) -> HttpResponse:
    """Show the desk; the form that was refused is shown as it was sent."""
    names, state = names_of(), known.state
    shown = {act: _form(act, known) for act in FORMS}
    here = shop.shop()
    words = Wording(zone=here.zone, names=names, currency=here.currency)
    gone = gettext("somebody who has left")
    context = {
        "job": known.info,
        "state": state,
        "events": lines_of(known.events, names),
        "forms": shown if bound is None else {**shown, sent: bound},
        "sent": sent,
        "place": place_words(state),
        "keys": keys_words(state, known.kept, names),
        "kept": known.kept,
        "keys_said": keys_said(known.record),
        "assigned": names.get(state.assigned, gone) if state.assigned else "",
        "left": state.assigned and state.assigned not in {each.id for each in shop.people()},
        "payer": gettext(PAYERS.get(state.payer, "")) if state.payer else "",
        "warranty": gettext(WARRANTIES.get(state.warranty, "")) if state.warranty else "",
        "asks": _standing(state.open_asks, names),
        "notes": _standing(state.open_notes, names),
        "dial": dialled(known.info.customer.phone),
        "messages_made": messages_of(Case(known.info, known.record, words, known.events)),
        "may_see_customer": request.person is not None and request.person.role != TECHNICIAN,
    }
    return render(request, "jobs/desk.html", context, status=200 if bound is None else 422)


@require_GET
@signed_on()
def desk_page(request: ShopRequest, job_id: str) -> HttpResponse:
    """Show a job's desk."""
    return _page(request, _known(job_id))


@require_POST
@signed_on()
def act(request: ShopRequest, job_id: str, kind: str) -> HttpResponse:
    """Take one form of the desk; what was typed stays when something is refused."""
    known = _known(job_id)
    if kind not in FORMS or request.person is None:
        raise Http404
    form = _form(kind, known, request.POST)
    if form.is_valid():
        try:
            form.send(request.person.id, clock.now())
        except InputRefused as refused:
            form.refuse(refused.blocker, sentence(refused.blocker))
        else:
            messages.success(request, gettext("Written down."))
            return redirect(f"{reverse('jobs:desk', args=(job_id,))}#{kind}")
    return _page(request, known, kind, form)


@require_POST
@signed_on()
def settle_one(request: ShopRequest, event_id: str) -> HttpResponse:
    """Take that a note was read, or a question answered, by whoever is signed on."""
    if request.person is None:
        raise Http404
    try:
        key = str(uuid.UUID(request.POST.get("key", "")))
    except ValueError:
        key = str(uuid.uuid4())
    try:
        settle(about=str(event_id), key=key, by=request.person.id, now=clock.now())
    except InputRefused as refused:
        messages.warning(request, sentence(refused.blocker))
    else:
        messages.success(request, gettext("Written down, with your name."))
    back = shop.uuid_of(request.POST.get("job", ""))
    job = request.POST.get("job", "")
    at_desk = bool(job) and str(back) == job
    return redirect("jobs:desk", job_id=job) if at_desk else redirect("jobs:today")
