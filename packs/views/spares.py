"""Pages of spares: the register, one spare with its history, what comes in, tests and moves."""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods

from packs import actions, project, queries
from packs.chemistries import CHEMISTRY_WORDS
from packs.errors import Conflict, InputRefused, Refused
from packs.project import MANAGER, TECHNICIAN, is_role, local_now, person_id, signed_on
from packs.spare_forms import AddedTestForm, SpareForm, SpareMoveForm
from packs.spare_tests import Comparison, compared, last_two
from packs.spares import (
    IN_STOCK,
    QUARANTINED,
    RESERVED,
    STATES,
    Bar,
    SpareEventInfo,
    SpareInfo,
    bars,
    days_since,
    moves_by_hand,
)
from packs.views.answers import sent
from packs.views.sorting import Heading, headings

SORT_WORDS = {
    "part": "part",
    "-part": "part, last first",
    "state": "state, in stock first",
    "-state": "state, scrapped first",
    "tested": "test, oldest first",
    "-tested": "test, newest first",
}
"""How the register can be sorted, in words."""


@dataclass(frozen=True, slots=True)
class SpareRow:
    """A spare as the register shows it: what bars it, in words, and how old its test is."""

    spare: SpareInfo
    bars: tuple[str, ...]
    age_days: int | None

    @property
    def mark(self) -> str:
        """How its state is marked: "usable", "barred" where something has to be done, "used"."""
        if not self.bars:
            return "usable"
        return "barred" if self.spare.state in {IN_STOCK, QUARANTINED} else "used"

    @property
    def head(self) -> str:
        """Its state in words, with the job that has it."""
        in_stock = self.spare.state == IN_STOCK
        return gettext(self.spare.state_words) if in_stock else self.bars[0]

    @property
    def rest(self) -> tuple[str, ...]:
        """What bars it beside its state; that nothing does."""
        if not self.bars:
            return (gettext("usable now"),)
        return self.bars if self.spare.state == IN_STOCK else self.bars[1:]


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One line of a spare's history with who did it, and the page of the job it names."""

    event: SpareEventInfo
    person: str
    job_address: str


def bar_words(found: tuple[Bar, ...]) -> tuple[str, ...]:
    """Say what bars a spare, in the reader's language."""
    return tuple(gettext(bar.text).format(job=bar.job) for bar in found)


def _filter(request: HttpRequest) -> queries.SpareFilter:
    """Read what the address asks for; what it cannot ask for is left out."""
    asked, sort = request.GET, request.GET.get("sort", "")
    return queries.SpareFilter(
        search=asked.get("q", "")[:100],
        state=asked.get("state", "") if asked.get("state") in STATES else "",
        part=asked.get("part", "")[:120].replace("\0", ""),
        chemistry=asked.get("chemistry", "") if asked.get("chemistry") in CHEMISTRY_WORDS else "",
        usable=asked.get("usable") == "1",
        sort=sort if sort.removeprefix("-") in queries.SORTS else queries.SORTS[0],
    )


def _headings(request: HttpRequest, wanted: queries.SpareFilter) -> dict[str, Heading]:
    return headings(request, queries.SORTS, wanted.sort)


@require_GET
@signed_on()
def spares_page(request: HttpRequest) -> HttpResponse:
    """Show the spares in the register that the address asks for."""
    wanted, today = _filter(request), local_now().date()
    found = queries.spares(wanted)
    rows = [SpareRow(each, bar_words(bars(each)), days_since(each.test, today)) for each in found]
    context = {
        "rows": rows,
        "wanted": wanted,
        "headings": _headings(request, wanted),
        "sorts": SORT_WORDS.items(),
        "states": STATES.items(),
        "parts": queries.spare_parts(),
        "chemistries": CHEMISTRY_WORDS.items(),
        "usable_count": sum(not row.bars for row in rows),
        "may_change": is_role(request, MANAGER, TECHNICIAN),
    }
    return render(request, "packs/spares.html", context)


def _removed_module(request: HttpRequest) -> dict[str, Any]:
    """Give what a module that a job took out fills in beforehand; nothing where none is named."""
    job, name = request.GET.get("job", "")[:20], request.GET.get("module", "")[:40]
    known = project.removed_modules(job) if job and name else ()
    found = next((each for each in known if each.module == name), None)
    if found is None:
        return {}
    words = gettext("Removed from {title}, module {module}, job {job}. {condition}")
    return {
        "serial": found.serial,
        "part": found.part,
        "chemistry": found.chemistry,
        "cells": found.cells,
        "provenance": words.format(
            title=found.job.title, module=name, job=job, condition=found.condition
        ).strip(),
        "state": QUARANTINED,
        "place": found.place,
    }


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, TECHNICIAN)
def add_spare_page(request: HttpRequest) -> HttpResponse:
    """Take a module into the register: into stock, or into quarantine as one removed."""
    removed = _removed_module(request) if request.method == "GET" else {}
    form = SpareForm(initial=removed) if removed else sent(request, SpareForm)
    if request.method == "POST" and form.is_valid():
        try:
            spare = actions.add_spare(
                new=form.new_spare(),
                by=person_id(request),
                now=local_now(),
                spare_id=form.cleaned_data["key"],
            )
        except Refused as refusal:
            form.show_refusal(refusal)
        else:
            return redirect("packs:spare", spare_id=spare.id)
    status = 422 if form.errors else 200
    context = {"form": form, "removed": bool(removed)}
    return render(request, "packs/add_spare.html", context, status=status)


@require_GET
@signed_on(MANAGER, TECHNICIAN)
def removed_modules_page(request: HttpRequest) -> HttpResponse:
    """Show the modules that jobs took out, to be registered; those known lead to their page."""
    found = [(each, queries.spare_with_serial(each.serial)) for each in project.removed_modules()]
    return render(request, "packs/removed_modules.html", {"modules": found})


def _history(events: tuple[SpareEventInfo, ...]) -> list[HistoryLine]:
    """Name people and jobs of a history, newest first."""
    people = project.names(event.person_id for event in events)
    jobs = project.jobs_by_number(event.job for event in events)
    return [
        HistoryLine(
            event,
            people.get(str(event.person_id), ""),
            jobs[event.job].address if event.job in jobs else "",
        )
        for event in reversed(events)
    ]


def _compared(events: tuple[SpareEventInfo, ...]) -> tuple[Comparison, ...]:
    """Compare the last two tests of a history."""
    pair = last_two([event.test for event in events])
    return () if pair is None else compared(*pair)


@require_GET
@signed_on()
def spare_page(request: HttpRequest, spare_id: UUID) -> HttpResponse:
    """Show a spare: facts, what bars it, and its history."""
    spare, events = _spare(spare_id), queries.spare_events(spare_id)
    job = project.jobs_by_number([spare.reserved_for]).get(spare.reserved_for)
    context = {
        "row": SpareRow(spare, bar_words(bars(spare)), None),
        "spare": spare,
        "bars": bar_words(bars(spare)),
        "age_days": days_since(spare.test, local_now().date()),
        "job": job,
        "history": _history(events),
        "compared": _compared(events),
        "may_change": is_role(request, MANAGER, TECHNICIAN),
        "may_move": bool(moves_by_hand(spare)),
    }
    return render(request, "packs/spare.html", context)


def _may_leave_quarantine(spare: SpareInfo) -> None:
    """Refuse to make a spare of a removed module that is watched, or that nobody has measured."""
    watch = project.watch_on(spare.serial)
    if watch == "running":
        raise Conflict("watch_runs", "state")
    if not watch:
        return
    test = spare.test
    able = test.capacity_ah is not None or test.resistance_mohm is not None
    if not able or test.cell_v is None or test.insulation_ohm is None or test.tested_on is None:
        raise InputRefused("tests_needed", "state")


def _move(spare_id: UUID, form: SpareMoveForm, by: UUID) -> None:
    """Move a spare, or set it aside for a job that is open."""
    data, spare = {**form.cleaned_data}, queries.spare(spare_id)
    if spare.quarantined and data["state"] == IN_STOCK and data["note"].strip():
        _may_leave_quarantine(spare)
    number = data.pop("job", "").strip()
    if data["state"] != RESERVED or not number:
        actions.move_spare(spare_id=spare_id, **data, by=by, now=local_now())
        return
    known = project.jobs_by_number([number]).get(number)
    if known is None or known.closed_at is not None:
        raise InputRefused("unknown_job", "job", job=number)
    actions.set_spare_aside(
        spare_id=spare_id,
        job=number,
        place=data["place"],
        note=data["note"],
        by=by,
        now=local_now(),
    )


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, TECHNICIAN)
def move_spare(request: HttpRequest, spare_id: UUID) -> HttpResponse:
    """Bring a spare to another place or state."""
    spare, form = _spare(spare_id), sent(request, SpareMoveForm)
    form.offer(spare, release=is_role(request, MANAGER))
    if request.method == "POST" and form.is_valid():
        try:
            _move(spare_id, form, person_id(request))
        except Refused as refusal:
            form.show_refusal(refusal)
        else:
            return redirect("packs:spare", spare_id=spare_id)
    context = {"spare": spare, "form": form, "bars": bar_words(bars(spare))}
    return render(request, "packs/move_spare.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@signed_on(MANAGER, TECHNICIAN)
def add_spare_test(request: HttpRequest, spare_id: UUID) -> HttpResponse:
    """Add a test to a spare."""
    spare, now = _spare(spare_id), local_now()
    form = sent(request, AddedTestForm)
    form.initial = {"tested_on": now.date()}
    if request.method == "POST" and form.is_valid():
        try:
            actions.add_spare_test(
                spare_id=spare_id,
                test=form.test(),
                by=person_id(request),
                now=now,
                note=form.cleaned_data["note"],
            )
        except Refused as refusal:
            form.show_refusal(refusal)
        else:
            return redirect("packs:spare", spare_id=spare_id)
    context = {"spare": spare, "form": form, "age_days": days_since(spare.test, now.date())}
    return render(request, "packs/test_spare.html", context, status=422 if form.errors else 200)


def _spare(spare_id: UUID) -> SpareInfo:
    """Return a spare, or say that there is no such page."""
    try:
        return queries.spare(spare_id)
    except InputRefused as refusal:
        raise Http404(str(refusal)) from refusal
