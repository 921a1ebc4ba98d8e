"""The printed quotation as data: what it costs, what it leaves out, how to answer.

Here: what is said and in which order, for any version. Not here: its table and history in words
(`jobs.report.quotation_words`), how it looks (`jobs.report.pdf`).
"""

from collections.abc import Iterator

from django.utils.translation import gettext

from jobs.core.item import PersonalRef
from jobs.core.quoted import Version, versions
from jobs.core.record import Record
from jobs.queries.records import JobInfo
from jobs.queries.signed import record_after, record_shown
from jobs.report.blocks import (
    AnswerLines,
    Block,
    Bullets,
    Heading,
    NewPage,
    Paragraph,
    Parties,
    Priced,
    Report,
)
from jobs.report.quotation_words import QuotationWords, quotation_words, version_words
from jobs.report.wording import Wording, wording_of
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import CANDIDATES, QUOTATION, answered
from jobs.steps.intake.items import PRICE_CAP
from workshop import figures_text
from workshop import queries as shop
from workshop.registers import ShopInfo

__all__ = ["quotation_document", "quotation_number"]

FOUND_IN = ("isolation_readings",)
"""Steps whose plain sentences say what was found before anything is quoted."""
ANSWER_MM = 62.0
"""Room that the answer takes; it is not torn apart."""


def quotation_number(job: str, version: int) -> str:
    """Give the number of a quotation.

    Examples
    --------
    >>> quotation_number("Q000004", 2)
    'Q000004-Q2'
    """
    return f"{job}-Q{version}"


def _parties(job: JobInfo) -> Block:
    customer, vehicle = job.customer, job.vehicle
    about = (job.title, job.plate, "" if vehicle is None else vehicle.vin)
    address = tuple(customer.address.splitlines())
    return Parties(
        (
            (gettext("For"), (customer.name, *address)),
            (gettext("Vehicle or pack"), tuple(dict.fromkeys(about))),
        )
    )


def _found(record: Record, words: Wording) -> Iterator[Block]:
    """Say what was found until this version was written, and what is proposed."""
    said = []
    for step in STEPS:
        if step.slug in FOUND_IN:
            shown = record_shown(record, step).record
            plain = step.section(shown, step.assess(shown)).plain
            said += [words.said(each) for each in plain if not isinstance(each, PersonalRef)]
    proposed = record.get(CANDIDATES)
    if said:
        yield Heading(gettext("What we found so far"))
        yield Paragraph(" ".join(said))
    if proposed:
        yield Heading(gettext("What we propose"))
        yield Paragraph(proposed)


def _priced(quoted: QuotationWords) -> Block:
    taxed = bool(quoted.taxes)
    heads = (gettext("No."), gettext("What"), gettext("Quantity"), gettext("Price of one"))
    tax = (gettext("Tax"),) if taxed else ()
    net = gettext("Net, {currency}").format(currency=quoted.currency)
    rows = tuple(
        (
            line.number,
            f"{line.text} ({line.kind})",
            line.quantity,
            line.unit_price,
            *((line.tax,) if taxed else ()),
            line.net,
        )
        for line in quoted.lines
    )
    total = (gettext("Total"), quoted.total)
    sums = ((gettext("Net"), quoted.net), *quoted.taxes, total) if taxed else (total,)
    return Priced((*heads, *tax, net), rows, sums)


def _left_out(record: Record, quoted: QuotationWords, words: Wording) -> Iterator[Block]:
    cap = record.get(PRICE_CAP)
    lines = [
        gettext(
            "Anything that shows only once the work has begun. We then stop and send you a new "
            "version; nothing beyond this one is done without your answer."
        )
    ]
    if cap is not None:
        text = gettext("The diagnosis you agreed to, up to {cap}, unless a line above names it.")
        lines.append(text.format(cap=words.money(cap)))
    yield Heading(gettext("What is not included"))
    if quoted.not_included:
        yield Paragraph(quoted.not_included)
    yield Bullets(tuple(lines))


def _cautions() -> Iterator[Block]:
    yield Heading(gettext("Until it is repaired"))
    yield Bullets(
        (
            gettext(
                "Leave it as it stands here: not switched on, not charged, not driven, not opened."
            ),
            gettext("It is moved by tow only, after asking us. The battery stays live inside."),
        )
    )


def _answer(info: ShopInfo, number: str, total: str) -> Iterator[Block]:
    ways = ", ".join(filter(None, (info.phone, info.email)))
    text = gettext("Tell us here, or with the number {number} by message or telephone")
    yield NewPage(ANSWER_MM)
    yield Heading(gettext("Your answer"))
    yield Paragraph(text.format(number=number) + (f": {ways}." if ways else "."))
    yield AnswerLines(
        (
            gettext("I accept quotation {number} for {total}.").format(number=number, total=total),
            gettext("I decline it. Nothing is repaired; it stays switched off and labelled."),
        ),
        (gettext("Name"), gettext("Day"), gettext("Signature")),
    )


def _body(
    job: JobInfo, record: Record, version: Version, info: ShopInfo, words: Wording
) -> Iterator[Block]:
    quoted = quotation_words(version.given.value)
    number = quotation_number(job.number, version.number)
    then = record_after(record, version.given.entry)
    yield Heading(gettext("Quotation {number}").format(number=number), 1)
    if version.replaced_by:
        replaced = quotation_number(job.number, version.replaced_by)
        text = gettext("Replaced by version {version} ({number}). It can no longer be accepted.")
        yield Heading(text.format(version=version.replaced_by, number=replaced), 3)
    elif not version.in_force:
        yield Heading(gettext("Withdrawn. It can no longer be accepted."), 3)
    yield _parties(job)
    yield from _found(then, words)
    yield Heading(gettext("What it costs"))
    yield _priced(quoted)
    if quoted.valid_until:
        yield Paragraph(gettext("Valid until {day}.").format(day=quoted.valid_until))
    if quoted.notes:
        yield Paragraph(quoted.notes)
    yield from _left_out(then, quoted, words)
    yield from _cautions()
    if version.in_force and not answered(record):
        yield from _answer(info, number, quoted.total)
    yield Heading(gettext("Versions and answers"))
    lines = (version_words(record, each, words) for each in versions(record, QUOTATION))
    yield Bullets(tuple(lines))


def quotation_document(job: JobInfo, record: Record, number: int | None = None) -> Report | None:
    """Put a version of the quotation together.

    Parameters
    ----------
    job : JobInfo
        The job.
    record : Record
        Its record as of now.
    number : int | None
        Which version; None for the newest.

    Returns
    -------
    Report | None
        The document as data; None where there is no such version.
    """
    known = versions(record, QUOTATION)
    wanted = len(known) if number is None else number
    version = next((each for each in known if each.number == wanted), None)
    if version is None:
        return None
    info, words = shop.shop(), wording_of(job.id, record)
    title = gettext("Quotation {number}").format(number=quotation_number(job.number, wanted))
    if version.replaced_by:
        text = gettext("{title}, replaced by version {version}")
        title = text.format(title=title, version=version.replaced_by)
    given = version.given
    return Report(
        title=title,
        author=info.name,
        address=info.address,
        number=job.number,
        subject=f"{job.title}, {job.plate}",
        date=figures_text.day(given.at.astimezone(info.zone).date()),
        signed=gettext("Written by {name}, {at}").format(
            name=words.name(given.person), at=figures_text.moment(given.at, info.zone)
        ),
        head=job.head,
        language="en",
        blocks=tuple(_body(job, record, version, info, words)),
    )
