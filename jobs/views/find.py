"""One search for everything that is said at the desk, and the notes from shift to shift."""

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET, require_http_methods

from jobs.actions.desk import WORDS_LIMIT, write_note
from jobs.core.reason import InputRefused
from jobs.queries.desk import desks
from jobs.queries.finding import find_all, job_numbered
from jobs.queries.records import JobInfo
from jobs.views.desk import sentence
from jobs.views.desk_words import names_of
from workshop import clock
from workshop import queries as shop
from workshop.people import TECHNICIAN
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["find", "hand_over"]


def _several(job: JobInfo) -> tuple[JobInfo, bool]:
    return job, job.closed_at is not None


@require_GET
@signed_on()
def find(request: ShopRequest) -> HttpResponse:
    """Show what a search found; a whole job number leads straight to its job."""
    search = request.GET.get("q", "")[: shop.SEARCH_LENGTH]
    exact = job_numbered(search) if search.strip() else None
    if exact is not None and "HX-Request" not in request.headers:
        return redirect("jobs:job", job_id=exact.id)
    found = find_all(search)
    may_open = request.person is not None and request.person.role != TECHNICIAN
    context: dict[str, Any] = {
        "search": search,
        "jobs": [_several(job) for job in found.jobs],
        "groups": found.groups if may_open else (),
        "may_open": may_open,
    }
    return render(request, "jobs/find.html", context)


class ShiftForm(forms.Form):
    """What the next shift has to know."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    text = forms.CharField(
        label=_("For the next shift"),
        max_length=WORDS_LIMIT,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=_("What concerns one job or its customer goes onto that job's desk."),
    )


@require_http_methods(["GET", "POST"])
@signed_on()
def hand_over(request: ShopRequest) -> HttpResponse:
    """Show the notes from shift to shift, and take a new one."""
    form = ShiftForm(request.POST if request.method == "POST" else None,
                     initial={"key": uuid.uuid4()})  # fmt: skip
    if form.is_valid() and request.person is not None:
        key, text = str(form.cleaned_data["key"]), form.cleaned_data["text"]
        try:
            write_note(key=key, text=text, by=request.person.id, now=clock.now())
        except InputRefused as refused:
            form.add_error(None, sentence(refused.blocker))
        else:
            messages.success(request, gettext("Written down for the next shift."))
            return redirect("jobs:today")
    names, now = names_of(), clock.now()
    notes = reversed(desks(now, shop.local_day(now)).notes)
    context = {
        "form": form,
        "notes": [(note, names.get(note.event.person, ""),
                   names.get(note.done.person, "") if note.done else "") for note in notes],
    }  # fmt: skip
    return render(request, "jobs/hand_over.html", context, status=422 if form.errors else 200)
