"""Reading a log in: choose the file, see what it holds, name its columns, save it in the job."""

import uuid
from dataclasses import dataclass, replace
from typing import Any, Final
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from jobs.actions.door import post
from jobs.actions.logs import keep_log
from jobs.core.draft import Draft
from jobs.core.entering import enter_gate
from jobs.core.entry import Kind
from jobs.core.log_check import check_logs
from jobs.core.log_entry import read_log_entry
from jobs.core.log_input import LOG_LIMIT_MB, parse_log
from jobs.core.log_section import log_facts, log_headline, log_pictures
from jobs.core.reason import Blocker, InputRefused
from jobs.core.record import Record
from jobs.queries.logs import Looked, kept_logs, look, look_at_kept
from jobs.queries.practice_shelf import acting
from jobs.queries.records import JobInfo
from jobs.report.wording import Wording
from jobs.steps import STEPS
from jobs.steps.road_test.items import LOG, SLUG, log_asked, logs
from jobs.views.cards import anchor_of
from jobs.views.job import found
from jobs.views.log_form import Mapping, first_mapping, sent_mapping
from jobs.views.page import person_used, wording_for
from jobs.views.panel import Line
from packs import queries as packs
from packs.logs.preview import LogPreview
from packs.strict_json import InputRefused as FileRefused
from packs.svg import svg
from workshop import clock
from workshop.people import PersonInfo
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["log_columns", "log_file"]

FIELD: Final = "log"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogPage:
    """A log before it is saved.

    Attributes
    ----------
    job : JobInfo
        The job.
    sha256 : str
        Digest of the kept file.
    mapping : Mapping
        The form.
    preview : LogPreview
        Header and first rows.
    needed_cells : int
        Cells in series of this pack.
    sources : tuple[str, ...]
        Names under which columns are remembered.
    faults : Mapping of field to sentences
        What stands against saving it, at its field.
    repairs, doubts : tuple[str, ...]
        What was repaired, and what could be read in more than one way.
    lines, headline, verdict : tuple, str, str
        What the log shows.
    pictures : tuple[SafeString, ...]
        The lanes.
    advice : tuple[str, ...]
        What to record next.
    ready : bool
        Whether it can be saved.
    """

    job: JobInfo
    sha256: str
    mapping: Mapping
    preview: LogPreview
    needed_cells: int
    sources: tuple[str, ...]
    faults: dict[str, list[str]]
    repairs: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    lines: tuple[Line, ...] = ()
    headline: str = ""
    verdict: str = "none"
    pictures: tuple[SafeString, ...] = ()
    advice: tuple[str, ...] = ()
    ready: bool = False


def _barred(job: JobInfo, record: Record, person: PersonInfo, words: Wording) -> str:
    """Say why no log can be entered now; empty where one can."""
    by = person_used(acting(person) if job.practice else person)
    blockers = enter_gate(STEPS, record, key=LOG.key, qualifier="", by=by)
    return " ".join(words.said(point) for point in blockers)


def _by_field(points: tuple[Blocker, ...], words: Wording) -> dict[str, list[str]]:
    faults: dict[str, list[str]] = {}
    for point in points:
        field = str(point.params.get("field", "log"))
        faults.setdefault(field, []).append(words.said(point))
    return faults


def _looked(record: Record, mapping: Mapping, sha256: str) -> Looked:
    if mapping.faults:
        return Looked()
    try:
        return look(record, parse_log(LOG, mapping.raw(sha256)))
    except InputRefused as refused:
        return Looked(blockers=(refused.blocker,))


def _shown(record: Record, looked: Looked, words: Wording) -> dict[str, Any]:
    """Say what a log shows by itself."""
    asked = log_asked(record)
    if looked.stored is None or asked is None:
        return {}
    log = read_log_entry(looked.stored)
    logged = check_logs((log,), asked, record.limits, LOG.key)
    headline = log_headline(logged)
    pictures = log_pictures((log,), logged, record.limits.spread_rest_mv.value)
    return {
        "lines": tuple(
            Line(
                label=words.words(fact.label),
                value=words.words(fact.value),
                verdict=fact.verdict,
                limit=words.limit(fact.limit, fact.limit_kind, fact.limit_source),
            )
            for fact in log_facts((log,), logged)
        ),
        "verdict": "pass" if headline is None else headline[0],
        "headline": gettext("The log shows no cell apart.")
        if headline is None
        else words.said(headline[1]),
        # Every text inside a picture is escaped where it is drawn.
        "pictures": tuple(mark_safe(svg(picture)) for picture in pictures),  # noqa: S308
        "advice": tuple(words.told(message.text) for message in log.result.advice),
    }


def _page(
    job: JobInfo, record: Record, sha256: str, mapping: Mapping, looked: Looked, words: Wording
) -> LogPage:
    faults = _by_field(looked.blockers, words)
    if mapping.faults:
        faults["columns"] = list(mapping.faults)
    return LogPage(
        job=job,
        sha256=sha256,
        mapping=mapping,
        preview=look_at_kept(sha256),
        needed_cells=0 if record.pack is None else record.pack.cells_total,
        sources=tuple(source.name for source in packs.log_sources()),
        faults=faults,
        repairs=tuple(words.told(message.text) for message in looked.repairs),
        doubts=tuple(words.told(message.text) for message in looked.doubts),
        ready=looked.stored is not None,
        **_shown(record, looked, words),
    )


def _turned(record: Record, mapping: Mapping, sha256: str) -> tuple[Mapping, Looked]:
    """Look at a log as guessed; where its cells say that the sign is the other one, turn it."""
    looked = _looked(record, mapping, sha256)
    suspect = {"current_sign_suspect"}
    if not mapping.source and suspect & {message.code for message in looked.doubts}:
        other = mapping.other_sign()
        turned = _looked(record, other, sha256)
        if not suspect & {message.code for message in turned.doubts}:
            return other, turned
    return mapping, looked


def _save(job: JobInfo, mapping: Mapping, sha256: str, person: PersonInfo) -> tuple[Blocker, ...]:
    """Send the entry through the door; give what it answered against it."""
    draft = Draft(
        key=str(uuid.uuid4()),
        job=job.id,
        kind=Kind.VALUE,
        item=LOG.key,
        value=mapping.raw(sha256),
        seen_head=job.head,
    )
    answer = post(draft, signed_on=person, now=clock.now())
    return answer.blockers


@require_http_methods(["GET", "POST"])
@signed_on()
def log_file(request: ShopRequest, job_id: str) -> HttpResponse:
    """Ask for the file of a log; keep it, and go on to its columns."""
    info, record = found(job_id)
    if request.person is None:
        raise Http404
    words, refused = wording_for(info, record), ""
    barred = _barred(info, record, request.person, words)
    if request.method == "POST" and not barred:
        file = request.FILES.get(FIELD)
        if file is None or file.file is None:
            refused = gettext("Choose the file of the log first.")
        else:
            try:
                sha256 = keep_log(
                    job_id=info.id, file=file.file, by=request.person.id, now=clock.now()
                )
            except InputRefused as fault:
                refused = words.said(fault.blocker)
            else:
                place = reverse("jobs:log_columns", args=(info.id, sha256))
                return redirect(f"{place}?{urlencode({'name': (file.name or '')[:120]})}")
    read_in = {log.sha256 for log in logs(record)}
    left = tuple(sha256 for sha256 in kept_logs(info.id) if sha256 not in read_in)
    context = {
        "job": info,
        "barred": barred,
        "refused": refused,
        "limit_mb": LOG_LIMIT_MB,
        "left": left,
        "back": reverse("jobs:step", args=(info.id, SLUG)),
    }
    return render(request, "jobs/log_file.html", context, status=422 if refused else 200)


def _preview(job: JobInfo, sha256: str) -> LogPreview:
    """Look at a kept file of this job, or answer that there is none."""
    if sha256 not in kept_logs(job.id):
        raise Http404
    try:
        return look_at_kept(sha256)
    except FileRefused:
        raise Http404 from None


@require_http_methods(["GET", "POST"])
@signed_on()
def log_columns(request: ShopRequest, job_id: str, sha256: str) -> HttpResponse:
    """Show what a log holds and which column is what; look again, or save it in the job."""
    info, record = found(job_id)
    if request.person is None:
        raise Http404
    words, preview = wording_for(info, record), _preview(info, sha256)
    back = reverse("jobs:step", args=(info.id, SLUG))
    barred = _barred(info, record, request.person, words)
    if request.method == "POST":
        mapping = sent_mapping(preview, request.POST)
        looked = _looked(record, mapping, sha256)
        if "save" in request.POST and looked.stored is not None and not barred:
            against = _save(info, mapping, sha256, request.person)
            if not against:
                messages.success(request, gettext("The log is in the record."))
                return redirect(f"{back}#{anchor_of(LOG.key)}")
            looked = Looked(blockers=against)
    else:
        name, chosen = request.GET.get("name", ""), request.GET.get("source")
        first = first_mapping(preview, packs.log_sources(), name=name, chosen=chosen)
        faults = (gettext("Say which column is what."),) if preview.columns is None else ()
        mapping = first if first.source else replace(first, faults=faults)
        mapping, looked = _turned(record, mapping, sha256)
    page = _page(info, record, sha256, mapping, looked, words)
    refused = bool(page.faults) and request.method == "POST"
    context = {"page": page, "barred": barred, "back": back}
    return render(request, "jobs/log_columns.html", context, status=422 if refused else 200)
