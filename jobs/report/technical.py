"""The technical record of a job: everything read, every entry, the instruments, who signed.

For inspectors and for the workshop itself; what a customer is told is `jobs.report.document`.
"""

from collections.abc import Iterator
from dataclasses import replace

from django.utils.translation import get_language, gettext, override

from jobs.core import lanes
from jobs.core.entry import Kind
from jobs.core.record import Record
from jobs.core.section import Quantity
from jobs.queries.records import JobInfo
from jobs.report.blocks import Block, Grid, Heading, NewPage, Paragraph, Pictures, Proof, Report
from jobs.report.instruments import instrument_rows
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
from jobs.report.photos import photo_blocks
from jobs.report.timeline import Row, SentenceOf, items_by_key, timeline
from jobs.report.wording import Wording, wording_of
from jobs.report.workings import working_blocks
from packs.definition import Figure
from workshop import figures_text
from workshop.limits import DEFAULTS

__all__ = ["technical_record_of"]


def _readings(record: Record, parts: dict[str, Part], words: Wording) -> Iterator[Block]:
    """Give what was read and recorded, step by step: what has a limit first, then tables."""
    for part in worked_on(record, parts):
        yield Heading(gettext(part.step.title))
        for limited in (True, False):
            rows = proof_rows(part, words, limited=limited)
            if rows:
                yield Proof((("", rows),), limits=limited)
        drawn = tuple(each for each in part.section.pictures if each.title == lanes.TITLE)
        if drawn:
            yield Pictures(tuple(replace(each, title=gettext(each.title)) for each in drawn))
        yield from table_blocks(part, words, parts_only=False)


def _instruments(record: Record) -> Iterator[Block]:
    rows = instrument_rows(record)
    if rows:
        yield Heading(gettext("Instruments and protective equipment"))
        yield Grid(
            (
                gettext("What"),
                gettext("Label, serial"),
                gettext("In date until"),
                gettext("Used in"),
            ),
            rows,
        )


def _line(row: Row, words: Wording) -> tuple[str, str, str, str]:
    struck = gettext("struck: {reason}").format(reason=row.struck) if row.struck else ""
    what = "; ".join(filter(None, (row.what, row.detail, struck, row.paper)))
    return str(row.seq), figures_text.moment(row.at, words.zone), row.name, what


def _entries(record: Record, words: Wording, sentence_of: SentenceOf) -> Iterator[Block]:
    yield NewPage()
    yield Heading(gettext("Every entry, in the order of the record"))
    headings = (gettext("No."), gettext("When"), gettext("Who"), gettext("What"))
    yield Grid(
        headings,
        tuple(_line(row, words) for row in timeline(record, words, sentence_of)),
        shares=(0.07, 0.2, 0.15, 0.58),
    )


def _limits(record: Record, words: Wording) -> Iterator[Block]:
    """Give the limits that hold now, each with its kind and source."""
    yield Heading(gettext("Limits of the workshop in force today"))
    yield Paragraph(
        gettext(
            "A signed step was judged under the limits that its signature sealed; those stand "
            "beside its readings."
        ),
        soft=True,
    )
    rows = tuple(
        (
            gettext(known.title),
            words.limit(Quantity(figure.value, known.unit), figure.kind, figure.source),
        )
        for name, known in DEFAULTS.items()
        if isinstance(figure := getattr(record.limits, name, None), Figure)
    )
    yield Grid((gettext("Limit"), gettext("Value, kind and source")), rows, shares=(0.45, 0.55))


def _revisions(record: Record, words: Wording) -> Iterator[Block]:
    """Give the pack definition that was used, and since which entry."""
    rows = tuple(
        (
            str(entry.seq),
            figures_text.moment(entry.at, words.zone),
            f"{entry.value.get('slug', '')} {entry.value.get('number', '')}".strip(),
            str(entry.value.get("reason", "")),
        )
        for entry in record.entries
        if entry.kind is Kind.REVISION
    )
    if rows:
        yield Heading(gettext("Pack definition"))
        heads = (gettext("No."), gettext("When"), gettext("Revision"), gettext("Reason"))
        yield Grid(heads, rows, shares=(0.07, 0.2, 0.33, 0.4))


def technical_record_of(
    job: JobInfo,
    record: Record,
    sentence_of: SentenceOf,
    language: str = "",
    *,
    with_photos: bool = True,
) -> Report:
    """Put a job's technical record together.

    Parameters
    ----------
    job : JobInfo
        The job.
    record : Record
        Its record as of now.
    sentence_of : Callable
        Gives the sentence of a refusal's reason from its code.
    language : str
        In which it is written, a code of the settings; empty for the reader's.
    with_photos : bool
        Whether the photos stand in it.

    Returns
    -------
    Report
        The technical record as data.
    """
    with override(language or get_language()):
        words, parts = wording_of(job.id, record), parts_of(record)
        photos = photo_blocks(record, items_by_key(record), words) if with_photos else ()
        blocks = (
            Heading(gettext("Technical record"), 1),
            record_head(record, job.count, job.head),
            signature_grid(record, words),
            *_revisions(record, words),
            *_instruments(record),
            *_readings(record, parts, words),
            *working_blocks(parts, words),
            *_limits(record, words),
            *photos,
            *_entries(record, words, sentence_of),
            Paragraph(gettext("End of the record. Head: {head}").format(head=job.head), soft=True),
        )
        title = gettext("Technical record {number}").format(number=job.number)
        return framed(job, record, words, title=title, blocks=blocks)
