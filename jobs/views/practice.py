"""Practice: the page to begin one, what was done, and how each went.

What is done inside a practice job is in `practice_bench`; the job itself has a job's own pages.
"""

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET, require_POST

from jobs.actions.practice import end_practice
from jobs.core.reason import InputRefused
from jobs.practice.room.faults import CHOICES
from jobs.practice.room.marking import score_of
from jobs.practice.room.running import begin, running
from jobs.queries.practice import PracticeInfo, practice_of, practices
from jobs.queries.practice_shelf import COLLEAGUE_PIN, COLLEAGUES
from jobs.views.practice_map import leak_map
from jobs.views.practice_words import fault_words, feedback, revealed
from packs import queries as packs
from packs.svg import svg
from workshop import clock
from workshop import queries as shop
from workshop.people import MANAGER, PersonInfo
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["begin_one", "end_one", "mine_or_managers", "practice_page", "result"]

_TYPED = 200


@dataclass(frozen=True, slots=True)
class Line:
    """A practice job in a list; what it hides is said once it is over, and to a manager."""

    info: PracticeInfo
    learner: str
    fault: str
    seed: str


def mine_or_managers(request: ShopRequest, job_id: uuid.UUID) -> tuple[PracticeInfo, PersonInfo]:
    """Give a practice job to its learner or to a manager; to anybody else there is none."""
    info, person = practice_of(job_id), request.person
    if info is None or person is None or (info.learner != person.id and person.role != MANAGER):
        raise Http404
    return info, person


def _line(info: PracticeInfo, names: dict[str, str], reader: PersonInfo) -> Line:
    told = info.ended_at is not None or reader.role == MANAGER
    return Line(
        info=info,
        learner=names.get(info.learner, ""),
        fault=fault_words(info.fault) if told else "",
        seed=f"{info.seed:06d}" if told else "",
    )


def _context(reader: PersonInfo) -> dict[str, Any]:
    found = practices("" if reader.role == MANAGER else reader.id)
    names = shop.names(info.learner for info in found)
    lines = [_line(info, names, reader) for info in found]
    return {
        "mine": [line for line in lines if line.info.learner == reader.id],
        "others": [line for line in lines if line.info.learner != reader.id],
        "packs": packs.packs_list(),
        "choices": [(code, fault_words(code)) for code in CHOICES],
        "colleagues": COLLEAGUES,
        "pin": COLLEAGUE_PIN,
        "key": str(uuid.uuid4()),
    }


@require_GET
@signed_on()
def practice_page(request: ShopRequest) -> HttpResponse:
    """Show what a practice is, a form to begin one, and those there are."""
    if request.person is None:
        raise Http404
    return render(request, "practice/practice.html", _context(request.person))


def _begun(request: ShopRequest, now: datetime) -> str:
    typed = {name: request.POST.get(name, "")[:_TYPED] for name in ("slug", "asked", "seed", "key")}
    try:
        key = str(uuid.UUID(typed["key"]))
    except ValueError:
        key = str(uuid.uuid4())
    by = "" if request.person is None else request.person.id
    return begin(
        key=key, slug=typed["slug"], asked=typed["asked"], seed=typed["seed"], by=by, now=now
    )


@require_POST
@signed_on()
def begin_one(request: ShopRequest) -> HttpResponse:
    """Begin a practice job and go to its first step."""
    if request.person is None:
        raise Http404
    try:
        job = _begun(request, clock.now())
    except InputRefused as refused:
        point = refused.blocker
        context = {**_context(request.person), "fault": point.text, "typed": request.POST}
        return render(request, "practice/practice.html", context, status=422)
    return redirect("jobs:job", job_id=job)


@require_POST
@signed_on()
def end_one(request: ShopRequest, job_id: uuid.UUID) -> HttpResponse:
    """End a practice: finished where its job is closed, given up otherwise; and say how it went."""
    info, _ = mine_or_managers(request, job_id)
    now = clock.now()
    if info.ended_at is None:
        run = running(info, now=now)
        how = "gave_up" if run.scene.record().closed is None else "finished"
        score = score_of(run, now=now).kept()
        end_practice(job_id=info.job_id, how=how, score=score, now=now)
    return redirect("jobs:practice_result", job_id=job_id)


@require_GET
@signed_on()
def result(request: ShopRequest, job_id: uuid.UUID) -> HttpResponse:
    """Say how a practice went and what the vehicle really had; nothing before it is over."""
    info, person = mine_or_managers(request, job_id)
    if info.score is None:
        return redirect("jobs:job", job_id=job_id)
    pack = packs.revision(info.revision).definition
    context = {
        "line": _line(info, shop.names([info.learner]), person),
        "score": info.score,
        "revealed": tuple(revealed(info.score)),
        "feedback": feedback(info.score),
        "drawing": mark_safe(svg(leak_map(pack, info.score["leaking"]))),  # noqa: S308
        "pack": pack,
    }
    return render(request, "practice/result.html", context)
