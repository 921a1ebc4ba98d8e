"""A message to a customer: made from the job, changed if need be, sent by the device's own program.

The links only open that program, so this works without the internet; nothing leaves from here. The
desk says that it went, and its words are kept.
"""

import uuid
from typing import Any
from urllib.parse import quote

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from jobs.actions.desk import Sent, log_text
from jobs.core.desk import TEXTS, WAYS_SENT
from jobs.core.reason import InputRefused
from jobs.queries.desk import events_of
from jobs.queries.records import JobInfo
from jobs.report.message import Case, messages_of
from jobs.views.desk import real_job, sentence
from jobs.views.page import wording_for
from workshop import clock
from workshop.finding import dialled
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["message", "ways_to_send"]


class MessageForm(forms.Form):
    """The words of a message and how it went."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    kind = forms.CharField(widget=forms.HiddenInput, max_length=20)
    words = forms.CharField(
        label=_("The message"), max_length=1500, widget=forms.Textarea(attrs={"rows": 6})
    )
    way = forms.ChoiceField(label=_("It went as"), required=False, widget=forms.RadioSelect)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        way = self.fields["way"]
        if isinstance(way, forms.ChoiceField):
            way.choices = [(code, gettext(title)) for code, title in WAYS_SENT.items()]


def ways_to_send(job: JobInfo, words: str) -> dict[str, str]:
    """Give the addresses that open the device's own programs with a message in them.

    Parameters
    ----------
    job : JobInfo
        The job; its customer's telephone and mail are used where they are known.
    words : str
        The message.

    Returns
    -------
    dict[str, str]
        "sms" and "mail", each only where it can be addressed.
    """
    number, mail = dialled(job.customer.phone), job.customer.email
    body, found = quote(words, safe=""), {}
    if number:
        found["sms"] = f"sms:{number}?body={body}"
    if mail:
        subject = quote(gettext("Job {number}").format(number=job.number), safe="")
        found["mail"] = f"mailto:{quote(mail, safe='@')}?subject={subject}&body={body}"
    return found


def _take(request: ShopRequest, job: JobInfo, form: MessageForm) -> bool:
    """Write down that a message went; say at its field why not."""
    if not form.is_valid() or request.person is None:
        return False
    data = form.cleaned_data
    sent = Sent(text=data["kind"], way=data["way"], words=data["words"])
    try:
        log_text(
            job_id=job.id, key=str(data["key"]), sent=sent, by=request.person.id, now=clock.now()
        )
    except InputRefused as refused:
        where = refused.blocker.item
        form.add_error(where if where in form.fields else None, sentence(refused.blocker))
        return False
    return True


@require_http_methods(["GET", "POST"])
@signed_on()
def message(request: ShopRequest, job_id: str) -> HttpResponse:
    """Show a message with its links, put changed words into them, or take that it was sent."""
    info, record = real_job(job_id)
    made = messages_of(Case(info, record, wording_for(info, record), events_of(job_id)))
    asked = request.POST if request.method == "POST" else request.GET
    kind = asked.get("kind", "") or next(iter(made), "")
    if kind and kind not in TEXTS:
        raise Http404
    first = {"key": uuid.uuid4(), "kind": kind, "words": made.get(kind, "")}
    form = MessageForm(initial=first)
    is_sent = request.POST.get("do") == "sent"
    if request.method == "POST":
        form = MessageForm(request.POST)
        if is_sent and _take(request, info, form):
            messages.success(request, gettext("Written down as sent."))
            return redirect(f"{reverse('jobs:desk', args=(job_id,))}#messages")
    words = str(form["words"].value() or "")
    context = {
        "job": info,
        "form": form,
        "kind": kind,
        "title": gettext(TEXTS.get(kind, "Message")),
        "made": [(code, gettext(TEXTS[code])) for code in made],
        "is_made": kind in made,
        "links": ways_to_send(info, words),
    }
    return render(request, "jobs/message.html", context, status=422 if is_sent else 200)
