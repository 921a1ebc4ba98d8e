"""The customer's report as data: an answer first, then the proof, then who signed.

Here: what is said and in which order. Not here: how it looks (`jobs.report.pdf`) and the
sentences of a step (its `section`). All text is plain; escaping is the renderer's business.
"""

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from django.utils.translation import get_language, gettext, ngettext, override

from jobs.core import lanes
from jobs.core.item import PersonalRef
from jobs.core.order import open_step
from jobs.core.picture import before_after
from jobs.core.quoted import in_force, taken_options
from jobs.core.record import Record
from jobs.core.section import Quantity
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
from jobs.report.ended import ended_blocks
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
from jobs.report.quotation_words import quotation_words
from jobs.report.summary import Summary, summary_of
from jobs.report.whereabouts import whereabouts
from jobs.report.wording import Wording, wording_of
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import OPTION, QUOTATION, REFUSAL, answered
from jobs.steps.intake.items import AUTHORITY
from packs.pack_map import pack_map
from packs.picture import Picture
from workshop import queries as shop
from workshop.registers import ShopInfo

__all__ = ["report_of"]


PROOF_MM = 90.0
"""Room for the proof after the papers of a job without a repair, or not yet; else it begins a page
[mm]."""
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


def _pictures(record: Record, summary: Summary, words: Wording) -> Iterator[Block]:
    pictures = []
    if record.pack is not None and summary.modules:
        title = gettext("Where it was")
        pictures.append(pack_map(record.pack, replaced=summary.modules, title=title))
    if summary.before_ohm_per_v is not None or summary.after_ohm_per_v is not None:
        drawn = before_after(
            _rounded(summary.before_ohm_per_v),
            _rounded(summary.after_ohm_per_v),
            summary.limit.value,
        )
        title = gettext("Isolation before and after, ohm per volt")
        pictures.append(replace(drawn, title=title))
    if pictures:
        yield Pictures(tuple(pictures))
    if summary.before_ohm_per_v is not None or summary.after_ohm_per_v is not None:
        limit = Quantity(summary.limit.value, "ohm/V")
        text = gettext(
            "Limit of the isolation: {limit}. Higher is better; each mark stands for ten times "
            "the one before it."
        )
        shown = words.limit(limit, summary.limit.kind, summary.limit.source)
        yield Paragraph(text.format(limit=shown), soft=True)


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
    worked = tuple(worked_on(record, parts))
    rows = tuple(
        (_proof_title(part.step), proof_rows(part, words, limited=True))
        for part in worked
        if any(fact.limit is not None for fact in part.section.facts)
    )
    if rows:
        yield from _proof(record, Proof(rows))
    changed = [gettext(part.step.title) for part in worked if not part.shown.matches]
    if changed:
        said = gettext(
            "Today's program computes other figures than were sealed when this was signed: {steps}"
        )
        yield Paragraph(said.format(steps=", ".join(changed)))


def _proof(record: Record, proof: Proof) -> Iterator[Block]:
    """Show the proof; it begins a page where the first one answers for a whole repair."""
    repaired = "road_test" in record.signatures and not any(
        each.ends for each in record.signatures.values()
    )
    yield NewPage(unless_mm=0.0 if repaired else PROOF_MM)
    yield Heading(gettext("The proof: readings, limits, where the limits come from"))
    yield Paragraph(
        gettext(
            "Each figure stands with the range that holds the true value with 95 % confidence. "
            "A limit is the vehicle maker's, a regulation's, or our own shop default, which stands "
            "on our practice and on no outside source."
        ),
        soft=True,
    )
    yield proof


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
    yield from _pictures(record, summary, words)
    watch = tuple(words.said(each) for each in summary.watch)
    yield from _sentences(gettext("What to do now"), (*watch, *_reached(info, watch)))
    yield from _warranty(record, info)
    yield from ended_blocks(record, parts, words)
    yield from _sentences(gettext("What this does not cover"), _not_covered(parts, words))
    yield from _decided(record, parts, words)
    yield from _work(parts, words)
    yield from _accepted(record)
    yield from _parts_and_cells(job, record, parts, words)
    yield from _signatures(job, record, words)


def _reached(info: ShopInfo, watch: tuple[str, ...]) -> tuple[str, ...]:
    """Say how the shop is reached, beside what the customer has to do."""
    hours = ", ".join(info.opening_hours.splitlines())
    ways = "; ".join(filter(None, (info.phone, info.email, hours)))
    return (gettext("You reach us at: {ways}.").format(ways=ways),) if watch and ways else ()


def _warranty(record: Record, info: ShopInfo) -> Iterator[Block]:
    """Give the shop's own words, once the work is released, and who pays where it is not one."""
    told = info.warranty_text if "road_test" in record.signatures else ""
    shares = _shares(record)
    if told or shares:
        yield Heading(gettext("Warranty"))
    if told:
        yield Paragraph(told)
    yield from (Bullets(shares),) if shares else ()


def _shares(record: Record) -> tuple[str, ...]:
    """Say who pays which part of the approved quotation, where it is not the customer alone."""
    version = in_force(record, QUOTATION)
    if version is None or answered(record) != "approved":
        return ()
    taken = taken_options(record, OPTION, version.number)
    payers = quotation_words(version.given.value, taken).payers
    line = gettext("Of quotation {number}, paid by {payer}: {amount}")
    return tuple(
        line.format(number=version.number, payer=payer, amount=amount) for payer, amount in payers
    )


def _accepted(record: Record) -> Iterator[Block]:
    """Give what a manager accepted although a default of the shop was not met."""
    lines = tuple(dict.fromkeys(str(e.value["reason"]) for e in record.countersigned))
    yield from _sentences(gettext("What our manager accepted, and why"), lines)


def _work(parts: dict[str, Part], words: Wording) -> Iterator[Block]:
    """Tell in plain words what was found, done and checked."""
    agreed = tuple(words.said(each) for part in parts.values() for each in part.section.agreed)
    found = _every(parts, ("isolation_readings", "fault_localisation"), words)
    did = _every(parts, ("de_energise_check", "module_swap", "reassembly"), words)
    checked = _every(parts, ("seal_test", "road_test"), words)
    yield from _sentences(gettext("What you agreed to"), agreed)
    yield from _sentences(gettext("What we found"), found)
    yield from _sentences(gettext("What we did"), did)
    yield from _sentences(gettext("How we checked it"), checked)


def _parts_and_cells(
    job: JobInfo, record: Record, parts: dict[str, Part], words: Wording
) -> Iterator[Block]:
    """Show what went out and came in, and the cells of the finished pack side by side."""
    for part in parts.values():
        yield from table_blocks(part, words, parts_only=True)
    yield from _sentences(gettext("Where the removed modules are"), whereabouts(job, record, words))
    for part in parts.values():
        drawn = tuple(each for each in part.section.pictures if each.title == lanes.TITLE)
        if drawn:
            yield Pictures(tuple(replace(each, title=gettext(each.title)) for each in drawn))


def report_of(job: JobInfo, record: Record, language: str = "") -> Report:
    """Put a job's report together.

    Parameters
    ----------
    job : JobInfo
        The job.
    record : Record
        Its record as of now.
    language : str
        In which it is written, a code of the settings; empty for the reader's.

    Returns
    -------
    Report
        The report as data.
    """
    with override(language or get_language()):
        words = wording_of(job.id, record)
        draft = open_step(STEPS, record) is not None and record.closed is None
        title = gettext("Interim report {number}") if draft else gettext("Report {number}")
        return framed(
            job,
            record,
            words,
            title=title.format(number=job.number),
            blocks=tuple(_body(job, record, shop.shop(), words)),
        )
