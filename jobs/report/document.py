"""The customer's report as data: an answer first, then the proof, then who signed.

Here: what is said and in which order. Not here: how it looks (`jobs.report.pdf`) and the
sentences of a step (its `section`). All text is plain; escaping is the renderer's business.
"""

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext, ngettext

from jobs.core import lanes
from jobs.core.item import PersonalRef
from jobs.core.order import open_step
from jobs.core.picture import before_after
from jobs.core.record import Record
from jobs.core.step import Step
from jobs.queries.records import JobInfo
from jobs.report.blocks import (
    Block,
    Boxes,
    Bullets,
    Heading,
    NewPage,
    Paragraph,
    Pictures,
    Proof,
    Report,
)
from jobs.report.parts import (
    Part,
    framed,
    parts_of,
    proof_rows,
    record_head,
    signature_grid,
    table_blocks,
    worked_on,
)
from jobs.report.summary import Summary, summary_of
from jobs.report.wording import Wording, wording_of
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import REFUSAL
from jobs.steps.intake.items import AUTHORITY
from packs.pack_map import pack_map
from packs.picture import Picture
from workshop import queries as shop
from workshop.registers import ShopInfo

__all__ = ["report_of"]


SIGNATURES_MM, DRAWN_MM = 100.0, 25.0
"""Room of the table of signatures with the record's head, and of two drawn signatures side by side;
they are not torn apart [mm]."""


def _plain(part: Part, words: Wording) -> tuple[str, ...]:
    return tuple(
        words.erasable(each.ref) if isinstance(each, PersonalRef) else words.said(each)
        for each in part.section.plain
    )


def _answer(summary: Summary, parts: dict[str, Part], words: Wording) -> Iterator[Block]:
    yield Heading(words.said(summary.headline), 1)
    told = _plain(parts["intake"], words)
    if told:
        yield Paragraph(" ".join(told), soft=True)
    asked = (
        (gettext("What was wrong"), summary.wrong),
        (gettext("What we did"), summary.did),
        (gettext("Is it fit to use?"), summary.fit),
    )
    yield Boxes(tuple((title, words.said(box[0]), words.said(box[1])) for title, box in asked))


def _rounded(value: float | None) -> float | None:
    """Round to three digits: a picture shows no more than was known."""
    return None if value is None else float(f"{value:.3g}")


def _pictures(record: Record, summary: Summary) -> Iterator[Block]:
    pictures = []
    if record.pack is not None and summary.modules:
        title = gettext("Where it was")
        pictures.append(pack_map(record.pack, replaced=summary.modules, title=title))
    if summary.before_ohm_per_v is not None or summary.after_ohm_per_v is not None:
        drawn = before_after(
            _rounded(summary.before_ohm_per_v),
            _rounded(summary.after_ohm_per_v),
            summary.limit_ohm_per_v,
        )
        title = gettext("Isolation before and after, ohm per volt")
        pictures.append(replace(drawn, title=title))
    if pictures:
        yield Pictures(tuple(pictures))


def _sentences(title: str, lines: tuple[str, ...]) -> Iterator[Block]:
    if lines:
        yield Heading(title)
        yield Bullets(lines)


def _every(parts: dict[str, Part], slugs: tuple[str, ...], words: Wording) -> tuple[str, ...]:
    return tuple(line for slug in slugs for line in _plain(parts[slug], words))


def _not_covered(parts: dict[str, Part], words: Wording) -> tuple[str, ...]:
    said = (words.said(each) for part in parts.values() for each in part.section.not_covered)
    return tuple(dict.fromkeys(said))


def _decided(record: Record, parts: dict[str, Part], words: Wording) -> Iterator[Block]:
    """Give every reading that has a limit, with that limit and where it comes from."""
    yield NewPage()
    yield Heading(gettext("The proof: readings, limits, where the limits come from"))
    yield Paragraph(
        gettext(
            "Each figure stands with the range that holds the true value with 95 % confidence. "
            "A limit is the vehicle maker's, a regulation's, or our own shop default."
        ),
        soft=True,
    )
    worked = tuple(worked_on(record, parts))
    yield Proof(
        tuple(
            (_proof_title(part.step), proof_rows(part, words, limited=True))
            for part in worked
            if any(fact.limit is not None for fact in part.section.facts)
        )
    )
    changed = [gettext(part.step.title) for part in worked if not part.shown.matches]
    if changed:
        said = gettext(
            "Today's program computes other figures than were sealed when this was signed: {steps}"
        )
        yield Paragraph(said.format(steps=", ".join(changed)))


def _proof_title(step: Step[Any]) -> str:
    """Give the title of a step; the readings before a repair say that they are that."""
    title = gettext(step.title)
    if step.slug == "isolation_readings":
        return gettext("{title}, as it came to us").format(title=title)
    return title


def _customer_signatures(record: Record, words: Wording) -> Iterator[Picture]:
    """Give what the customer drew: under the authority, the refusal, and at the hand-over."""
    titled = (
        (AUTHORITY, gettext("Customer's authority")),
        (REFUSAL, gettext("Customer's refusal")),
    )
    found = [(given.value.ref, title) for item, title in titled if (given := record.given(item))]
    if record.closed is not None:
        found.append((record.closed.value["received_by"]["ref"], gettext("Received by")))
    for ref, title in found:
        picture = words.signature(ref)
        if picture is not None:
            yield replace(picture, title=f"{title}: {picture.title}")


def _signatures(job: JobInfo, record: Record, words: Wording) -> Iterator[Block]:
    signed = tuple(_customer_signatures(record, words))
    yield NewPage(unless_mm=SIGNATURES_MM + DRAWN_MM * math.ceil(len(signed) / 2))
    yield Heading(gettext("Who signed"))
    yield signature_grid(record, words)
    if signed:
        yield Pictures(signed)
    yield record_head(record, job.count, job.head)
    written = sum(entry.paper is not None for entry in record.entries)
    if written:
        yield Paragraph(
            ngettext(
                "{count} value was written on a printed sheet first and typed in afterwards.",
                "{count} values were written on printed sheets first and typed in afterwards.",
                written,
            ).format(count=written)
        )
    yield Paragraph(
        gettext(
            "Every reading, every entry and the instruments with their tests stand in the "
            "technical record of this job, which we keep and give on request."
        ),
        soft=True,
    )


def _body(job: JobInfo, record: Record, info: ShopInfo, words: Wording) -> Iterator[Block]:
    parts = parts_of(record)
    summary = summary_of(record, {slug: part.result for slug, part in parts.items()})
    yield from _answer(summary, parts, words)
    yield from _pictures(record, summary)
    watch = tuple(words.said(each) for each in summary.watch)
    warranted = info.warranty_text if "road_test" in record.signatures else ""
    warranty = (warranted,) if warranted else ()
    yield from _sentences(gettext("What to do now"), (*watch, *warranty))
    yield from _sentences(gettext("What this does not cover"), _not_covered(parts, words))
    yield from _decided(record, parts, words)
    yield from _work(parts, words)
    yield from _parts_and_cells(parts, words)
    yield from _signatures(job, record, words)


def _work(parts: dict[str, Part], words: Wording) -> Iterator[Block]:
    """Tell in plain words what was found, done and checked."""
    found = _every(parts, ("isolation_readings", "fault_localisation"), words)
    did = _every(parts, ("de_energise_check", "module_swap", "reassembly"), words)
    checked = _every(parts, ("seal_test", "road_test"), words)
    yield from _sentences(gettext("What we found"), found)
    yield from _sentences(gettext("What we did"), did)
    yield from _sentences(gettext("How we checked it"), checked)


def _parts_and_cells(parts: dict[str, Part], words: Wording) -> Iterator[Block]:
    """Show what went out and came in, and the cells of the finished pack side by side."""
    for part in parts.values():
        yield from table_blocks(part, words, parts_only=True)
        drawn = tuple(each for each in part.section.pictures if each.title == lanes.TITLE)
        if drawn:
            yield Pictures(tuple(replace(each, title=gettext(each.title)) for each in drawn))


def report_of(job: JobInfo, record: Record) -> Report:
    """Put a job's report together.

    Parameters
    ----------
    job : JobInfo
        The job.
    record : Record
        Its record as of now.

    Returns
    -------
    Report
        The report as data.
    """
    info = shop.shop()
    words = wording_of(job.id, record)
    draft = open_step(STEPS, record) is not None and record.closed is None
    title = gettext("Report {number}").format(number=job.number)
    return framed(
        job,
        record,
        words,
        title=f"{title} ({gettext('work not finished')})" if draft else title,
        blocks=tuple(_body(job, record, info, words)),
    )
