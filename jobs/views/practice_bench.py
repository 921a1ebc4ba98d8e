"""Inside a practice job: instruments on the screen, the colleague, time let pass, a hint.

JSON and fragments of the page; what is read is typed into the same cards as in a real job.
"""

import json
import uuid
from collections.abc import Mapping
from datetime import timedelta
from itertools import chain
from typing import Any, Final

from django.contrib import messages
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from jobs.actions.practice import let_time_pass, note_act
from jobs.core.draft import Answer
from jobs.core.order import open_step
from jobs.core.reason import Blocker, InputRefused
from jobs.core.record import Record
from jobs.practice.room.colleague import may_take, take, what_is_read
from jobs.practice.room.gauging import TOOLS, spots_for
from jobs.practice.room.looking import MODES, Look, places_for
from jobs.practice.room.running import Running, look, running
from jobs.practice.room.seen import what_is_seen
from jobs.practice.room.words import display_text
from jobs.queries.timers import timer_of
from jobs.queries.upcoming import asked_now, upcoming
from jobs.report.wording import wording_of
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import SEEN
from jobs.steps.seal_test.items import SAMPLE
from jobs.views.practice import mine_or_managers
from jobs.views.practice_map import map_rows, names_of
from jobs.views.practice_seen import closely, seen_context
from workshop import clock
from workshop.figures_text import duration
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["bench", "cards", "hint", "look_at_one", "read_one", "take_one", "time_passes"]

REFUSED: Final = 422
_TYPED: Final = 300


def _run(request: ShopRequest, job_id: uuid.UUID) -> Running:
    info, _ = mine_or_managers(request, job_id)
    if info.ended_at is not None:
        raise Http404
    return running(info, now=clock.now())


def _asked(request: ShopRequest) -> Mapping[str, Any]:
    try:
        asked = json.loads(request.body)
    except ValueError:
        return {}
    return asked if isinstance(asked, dict) else {}


def _text(asked: Mapping[str, Any], name: str) -> str:
    value = asked.get(name, "")
    return value[:_TYPED] if isinstance(value, str) else ""


def _said(run: Running, point: Blocker) -> str:
    return wording_of(run.info.job_id, run.scene.record()).said(point)


def _no(run: Running, point: Blocker) -> JsonResponse:
    return JsonResponse({"said": _said(run, point)}, status=REFUSED)


@require_GET
@signed_on()
def cards(request: ShopRequest, job_id: uuid.UUID) -> JsonResponse:
    """Say which cards of the open step have an instrument, are read, or can be taken."""
    run = _run(request, job_id)
    record = run.scene.record()
    asked = {item.key: item for step in STEPS for item in step.items(record)}
    ways = {key: "take" for key, item in asked.items() if may_take(item)}
    ways |= {key: "leads" for key in asked if key in MODES} | {SEEN.key: "look"}
    ways |= {key: "leads" if key == SAMPLE.key else "tool" for key in asked if key in TOOLS}
    return JsonResponse({"cards": ways})


def _tool(request: ShopRequest, run: Running, key: str) -> dict[str, Any]:
    """Give what the page says of a tool of the later steps."""
    return {
        "item": key,
        "qualifier": request.GET.get("qualifier", "")[:_TYPED],
        "places": spots_for(run.scene, key),
        "label": gettext(TOOLS[key].name),
        "spot": TOOLS[key].leads == 1,
    }


@require_GET
@signed_on()
def bench(request: ShopRequest, job_id: uuid.UUID) -> HttpResponse:
    """Show the instrument of a card with the places where its leads can be put."""
    run = _run(request, job_id)
    key = request.GET.get("item", "")[:_TYPED]
    if key == SEEN.key:
        return render(request, "practice/seen.html", seen_context(run))
    if key in TOOLS:
        return render(request, "practice/instrument.html", _tool(request, run, key))
    if key not in MODES:
        raise Http404
    places, is_open = places_for(run.scene, key), run.scene.record().pack_open
    context = {
        "item": key,
        "qualifier": request.GET.get("qualifier", "")[:_TYPED],
        "rows": map_rows(run.scene.pack, places) if is_open else (),
        "places": [place for place in places if not (place.module and is_open)],
        **names_of(run.scene, key),
    }
    return render(request, "practice/instrument.html", context)


@require_POST
@signed_on()
def look_at_one(request: ShopRequest, job_id: uuid.UUID) -> JsonResponse:
    """Give what the display of an instrument shows with its leads where they are."""
    run, asked = _run(request, job_id), _asked(request)
    wanted = Look(
        item=_text(asked, "item"),
        qualifier=_text(asked, "qualifier"),
        red=_text(asked, "red"),
        black=_text(asked, "black"),
        shunt=asked.get("shunt") is True,
        unplugged=_text(asked, "unplugged") or "nothing",
    )
    if wanted.item == SEEN.key:
        return JsonResponse({"said": closely(run, wanted.red)})
    if wanted.item not in MODES and wanted.item not in TOOLS:
        raise Http404
    shown = look(run, wanted, now=clock.now())
    return JsonResponse(
        {
            "frames": [list(frame) for frame in shown.frames],
            "unit": shown.unit,
            "said": shown.said,
            "battery": shown.battery,
        }
    )


@require_POST
@signed_on()
def read_one(request: ShopRequest, job_id: uuid.UUID) -> JsonResponse:
    """Give what a plain instrument or the eye shows for a card, as lines to be typed."""
    run, asked = _run(request, job_id), _asked(request)
    key, qualifier = _text(asked, "item"), _text(asked, "qualifier")
    try:
        if key == SEEN.key:
            return JsonResponse({"lines": list(what_is_seen(run)), "said": ""})
        raw, took = what_is_read(run.scene, key, qualifier)
    except InputRefused as refused:
        return _no(run, refused.blocker)
    said = gettext("This takes {time}.").format(time=duration(took.total_seconds()))
    longer = took >= timedelta(minutes=1)
    return JsonResponse({"lines": list(display_text(raw)), "said": said if longer else ""})


def _answered(run: Running, answer: Answer) -> JsonResponse:
    said = " ".join(_said(run, point) for point in answer.blockers)
    status = 200 if answer.verdict == "applied" else REFUSED
    return JsonResponse({"verdict": answer.verdict, "said": said}, status=status)


@require_POST
@signed_on()
def take_one(request: ShopRequest, job_id: uuid.UUID) -> JsonResponse:
    """Let the colleague read and enter what a card asks."""
    run, asked = _run(request, job_id), _asked(request)
    try:
        key = str(uuid.UUID(_text(asked, "key")))
    except ValueError:
        key = str(uuid.uuid4())
    try:
        answer = take(
            run.scene,
            item_key=_text(asked, "item"),
            qualifier=_text(asked, "qualifier"),
            entry_key=key,
            now=clock.now(),
        )
    except InputRefused as refused:
        return _no(run, refused.blocker)
    return _answered(run, answer)


def _until_over(record: Record) -> timedelta:
    """Give how long the time that runs still runs; nothing where none does."""
    step = open_step(STEPS, record)
    found = None if step is None else timer_of(record, chain(*asked_now(record, step)))
    if found is None or found.until <= record.now:
        return timedelta()
    return found.until - record.now + timedelta(seconds=1)


@require_POST
@signed_on()
def time_passes(request: ShopRequest, job_id: uuid.UUID) -> HttpResponse:
    """Let time pass in this job alone."""
    run = _run(request, job_id)
    asked = request.POST.get("seconds", "")
    over = _until_over(run.scene.record()) if asked == "over" else None
    seconds = int(asked) if asked.isascii() and asked.isdecimal() and len(asked) < 9 else 0  # noqa: PLR2004 - more digits are more than weeks
    step = timedelta(seconds=seconds) if over is None else over
    try:
        let_time_pass(job_id=run.info.job_id, step=step, now=clock.now())
    except InputRefused as refused:
        none = gettext("No time runs in this step.")
        messages.info(request, none if over is not None else _said(run, refused.blocker))
    else:
        passed = duration(step.total_seconds())
        messages.info(request, gettext("{time} have passed in this job.").format(time=passed))
    return redirect("jobs:job", job_id=job_id)


def _hint(record: Record) -> str:
    step = open_step(STEPS, record)
    if step is None:
        return gettext("Nothing is left to do but to hand over.")
    act = upcoming(record, step, asked_now(record, step))
    kinds = {
        "enter": gettext("Next: {label}."),
        "hold": gettext("The hold point can be passed: before {label}."),
        "prove": gettext("Every point is read: sign the proof."),
        "sign": gettext("Nothing is missing: sign the step."),
        "none": gettext("A value stands in the way. See what is missing beside the step."),
    }
    return kinds[act.act].format(label=gettext(act.label))


@require_POST
@signed_on()
def hint(request: ShopRequest, job_id: uuid.UUID) -> HttpResponse:
    """Say what a careful person would do next; it is counted."""
    run = _run(request, job_id)
    said = _hint(run.scene.record())
    note_act(job_id=run.info.job_id, kind="hint", values={"said": said}, now=clock.now())
    messages.info(request, said)
    return redirect("jobs:job", job_id=job_id)
