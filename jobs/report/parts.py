"""Each step with what it says, as it was signed; shared by the documents made of a job.

Not here: which of it a document shows (`jobs.report.document`, `jobs.report.technical`).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.utils.translation import get_language, gettext, ngettext

from jobs.core.order import step_state
from jobs.core.record import Record
from jobs.core.section import Fact, Section
from jobs.core.step import Step
from jobs.queries.records import JobInfo
from jobs.queries.signed import AsSigned, record_shown
from jobs.report.blocks import Block, Grid, Heading, Paragraph, ProofRow, Report
from jobs.report.wording import Wording
from jobs.steps import STEPS
from workshop import figures_text, units
from workshop import queries as shop

__all__ = [
    "Part",
    "framed",
    "parts_of",
    "proof_rows",
    "record_head",
    "signature_grid",
    "table_blocks",
    "worked_on",
]


@dataclass(frozen=True, slots=True)
class Part:
    """A step with what it says, as it was signed."""

    step: Step[Any]
    shown: AsSigned
    section: Section
    result: Any


def parts_of(record: Record) -> dict[str, Part]:
    """Give every step of a job by its slug, as it was signed or as it stands."""
    parts = {}
    for step in STEPS:
        shown = record_shown(record, step)
        result = step.assess(shown.record)
        parts[step.slug] = Part(step, shown, step.section(shown.record, result), result)
    return parts


def worked_on(record: Record, parts: dict[str, Part]) -> Iterator[Part]:
    """Give the steps that have something to show."""
    for part in parts.values():
        if part.section.facts and step_state(STEPS, record, part.step) != "waiting":
            yield part


def _proof_row(fact: Fact, words: Wording) -> ProofRow:
    return ProofRow(
        words.words(fact.label),
        words.words(fact.value) + (f", {fact.instrument}" if fact.instrument else ""),
        words.limit(fact.limit, fact.limit_kind, fact.limit_source),
        fact.verdict,
    )


def proof_rows(part: Part, words: Wording, *, limited: bool) -> tuple[ProofRow, ...]:
    """Give a step's lines of proof: those with a limit, or those without."""
    facts = (fact for fact in part.section.facts if (fact.limit is not None) is limited)
    return tuple(_proof_row(fact, words) for fact in facts)


def table_blocks(part: Part, words: Wording, *, parts_only: bool) -> Iterator[Block]:
    """Give a step's tables: all of them, or those of parts that went out and came in."""
    for table in part.section.tables:
        if parts_only and not table.of_parts:
            continue
        yield Heading(words.words(table.title), 3)
        yield Grid(
            tuple(units.in_text(words.words(heading)) for heading in table.headings),
            tuple(tuple(words.words(cell) for cell in row) for row in table.rows),
            table.shares,
        )


def _signature_rows(record: Record, words: Wording) -> Iterator[tuple[str, ...]]:
    for step in STEPS:
        signature = record.signatures.get(step.slug)
        if signature is None:
            yield gettext(step.title), gettext("not signed"), "", ""
            continue
        outcome = gettext("not needed") if signature.outcome == "not_needed" else gettext("done")
        people = words.name(signature.by.id)
        if signature.second:
            people = f"{people}, {words.name(signature.second)}"
        at = figures_text.moment(signature.at, words.zone)
        yield gettext(step.title), outcome, people, at


def signature_grid(record: Record, words: Wording) -> Grid:
    """Give who signed which step, and when."""
    headings = (gettext("Step"), gettext("Outcome"), gettext("Signed by"), gettext("When"))
    return Grid(headings, tuple(_signature_rows(record, words)))


def record_head(record: Record, count: int, head: str) -> Paragraph:
    """Say how long the record is, what was struck and refused, and where its chain ends."""
    refused = sum(entry.kind == "refusal" for entry in record.entries)
    struck = len(record.gone)
    sentences = (
        ngettext(
            "The record of this job has {count} entry.",
            "The record of this job has {count} entries.",
            count,
        ).format(count=count),
        ngettext(
            "{struck} value was struck with a reason.",
            "{struck} values were struck with a reason.",
            struck,
        ).format(struck=struck)
        if struck
        else gettext("No value was struck."),
        ngettext(
            "{refused} signature or hold point was refused before everything was in order.",
            "{refused} signatures or hold points were refused before everything was in order.",
            refused,
        ).format(refused=refused)
        if refused
        else gettext("No signature or hold point was refused."),
        gettext("Nothing in it can be changed without showing. Head of the record: {head}").format(
            head=head
        ),
    )
    return Paragraph(" ".join(sentences))


def _signed_line(record: Record, words: Wording) -> str:
    last = max(record.signatures.values(), key=lambda each: each.seq, default=None)
    if last is None:
        return gettext("Not signed yet")
    return gettext("Last signed by {name}; every signature in the table of who signed").format(
        name=words.name(last.by.id)
    )


def framed(
    job: JobInfo, record: Record, words: Wording, *, title: str, blocks: tuple[Block, ...]
) -> Report:
    """Put the shop, the vehicle and the head of the record around a document's blocks."""
    info = shop.shop()
    return Report(
        title=title,
        author=info.name,
        address=info.address,
        number=job.number,
        subject=f"{job.title}, {job.plate}",
        date=figures_text.day(record.now.astimezone(info.zone).date()),
        signed=_signed_line(record, words),
        head=job.head,
        language=get_language() or "en",
        blocks=blocks,
        logo=shop.logo_bytes(),
    )
