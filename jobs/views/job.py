"""A job's screens: the open step, one step, and the whole record."""

from typing import Final

from django.http import (
    Http404,
    HttpRequest,
    HttpResponse,
    HttpResponseNotModified,
    JsonResponse,
)
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from jobs.core.order import open_step
from jobs.core.record import Record
from jobs.queries.records import JobInfo, job_info, record_of
from jobs.report.timeline import timeline
from jobs.steps import STEPS
from jobs.views.page import WORKED_ON, from_paper, step_page, wording_for
from jobs.views.reasons import sentence_of
from workshop import clock
from workshop.sign_on import ShopRequest, signed_on
from workshop.tablet_mark import release

__all__ = ["found", "head", "job", "record", "step"]

KEEP_HEADER: Final = "X-Keep"
"""Says that a tablet asks for a copy that is to open without the network."""
COPY_LASTS_S: Final = 600
"""How long a copy counts as the same although nothing was entered [s]."""


def found(job_id: str) -> tuple[JobInfo, Record]:
    """Give a job and its record as of now, or answer that there is none."""
    info, folded = job_info(job_id), record_of(job_id, now=clock.now())
    if info is None or folded is None:
        raise Http404
    return info, folded


@require_GET
@signed_on()
def job(_request: HttpRequest, job_id: str) -> HttpResponse:
    """Go to the step that is open, or to the last one."""
    _, folded = found(job_id)
    current = open_step(STEPS, folded) or STEPS[-1]
    return redirect("jobs:step", job_id=job_id, slug=current.slug)


@require_GET
@signed_on()
def head(_request: HttpRequest, job_id: str) -> JsonResponse:
    """Give where the job's record ends, so that a page can tell whether it is behind."""
    info = job_info(job_id)
    if info is None:
        raise Http404
    return JsonResponse({"head": info.head})


@require_GET
@signed_on()
def step(request: ShopRequest, job_id: str, slug: str) -> HttpResponse:
    """Show one step: its cards, what the readings say, what is missing."""
    wanted, tag = next((each for each in STEPS if each.slug == slug), None), _tag(request, job_id)
    if wanted is None or request.person is None:
        raise Http404
    if tag and request.headers.get("If-None-Match") == tag:
        return HttpResponseNotModified()
    info, folded = found(job_id)
    page = step_page(info, folded, wanted, request.person)
    if "paper" in request.GET and page.state in WORKED_ON:
        page = from_paper(page)
    answer = render(request, page.cautions, {"page": page})
    if tag:
        answer.headers["ETag"] = tag
    return answer


def _tag(request: ShopRequest, job_id: str) -> str:
    """Name what a tablet's copy of a step's page was made of; empty for whoever looks at it now.

    Where a record ends, who reads it, the release; and the time in steps, because waits end.
    """
    info = job_info(job_id) if KEEP_HEADER in request.headers else None
    if info is None or request.person is None:
        return ""
    step_of_time = int(clock.now().timestamp() // COPY_LASTS_S)
    return f'W/"{info.head[:16]}-{request.person.id[:8]}-{release()}-{step_of_time}"'


@require_GET
@signed_on()
def record(request: ShopRequest, job_id: str) -> HttpResponse:
    """Show every entry of the job, in order, with strikes and refusals."""
    info, folded = found(job_id)
    words = wording_for(info, folded)
    context = {"job": info, "rows": timeline(folded, words, sentence_of)}
    return render(request, "jobs/record.html", context)
