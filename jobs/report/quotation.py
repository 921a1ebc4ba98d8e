"""The printed quotation as data: what it costs, what it leaves out, how to answer.

Here: what is said and in which order, for any version. Not here: its table and history in words
(`jobs.report.quotation_words`), how it looks (`jobs.report.pdf`).
"""

from collections.abc import Iterator

from django.utils.translation import get_language, gettext

from jobs.core.item import PersonalRef
from jobs.core.quoted import Version, taken_options, versions
from jobs.core.record import Record
from jobs.queries.records import JobInfo
from jobs.queries.signed import record_after, record_shown
from jobs.report.blocks import (
    AnswerLines,
    Block,
    Bullets,
    Grid,
    Heading,
    Paragraph,
    Parties,
    Priced,
    Report,
    Together,
)
from jobs.report.quotation_words import (
    QuotationWords,
    change_words,
    quotation_words,
    version_words,
)
from jobs.report.wording import Wording, wording_of
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import CANDIDATES, OPTION, QUOTATION, answered
from jobs.steps.intake.items import PRICE_CAP
from workshop import figures_text
from workshop import queries as shop
from workshop.registers import ShopInfo

__all__ = ["quotation_document", "quotation_number"]

FOUND_IN = ("isolation_readings",)
"""Steps whose plain sentences say what was found before anything is quoted."""


def quotation_number(job: str, version: int) -> str:
    """Give the number of a quotation.

    Examples
    --------
    >>> quotation_number("Q000004", 2)
    'Q000004-Q2'
    """
    return f"{job}-Q{version}"


def _parties(job: JobInfo, info: ShopInfo) -> Block:
    customer, vehicle = job.customer, job.vehicle
    about = (job.title, job.plate, "" if vehicle is None else vehicle.vin)
    address = tuple(customer.address.splitlines())
    return Parties(
        (
            (gettext("For"), (customer.name, *address)),
            (gettext("Vehicle or pack"), tuple(dict.fromkeys(about))),
            (
                gettext("Written by"),
                tuple(filter(None, (info.name, info.phone, info.email, info.tax_number))),
            ),
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
    if said or proposed:
        yield Heading(gettext("What we found so far, and what we propose"))
        yield Paragraph(" ".join(filter(None, (*said, proposed))))


def _lines(quoted: QuotationWords) -> Block:
    """Give the lines as a table; their sums follow with the answer."""
    taxed = bool(quoted.taxes)
    heads = (gettext("No."), gettext("What"), gettext("Quantity"), gettext("Price of one"))
    tax = (gettext("Tax"),) if taxed else ()
    net = gettext("Net, {currency}").format(currency=quoted.currency)
    rows = tuple(
        (
            line.number,
            f"{line.text} ({line.kind_words})",
            line.quantity,
            line.unit_price,
            *((line.tax,) if taxed else ()),
            line.net,
        )
        for line in quoted.lines
    )
    return Priced((*heads, *tax, net), rows, ())


def _sums(quoted: QuotationWords) -> Iterator[Block]:
    """Give the sums: by kind, net, tax for each rate, total; then shares and what is optional."""
    total = (gettext("Total"), quoted.total)
    net = ((gettext("Net"), quoted.net), *quoted.taxes) if quoted.taxes else ()
    yield Priced((), (), (*net, total))
    if quoted.kinds:
        kinds = "; ".join(f"{label} {amount}" for label, amount in quoted.kinds)
        yield Paragraph(gettext("Net by kind: {kinds}.").format(kinds=kinds), soft=True)
    if quoted.payers:
        shares = "; ".join(f"{label}: {amount}" for label, amount in quoted.payers)
        yield Paragraph(gettext("Of this total pay: {shares}.").format(shares=shares))
    if quoted.with_options:
        text = gettext(
            "Optional lines, in brackets, are not in the total; with every one of them: {total}."
        )
        yield Paragraph(text.format(total=quoted.with_options))
    until = gettext("Valid until {day}.").format(day=quoted.valid_until)
    rounding = gettext(
        "Each line is rounded to the cent; tax is computed for each rate on the sum of its lines."
    )
    yield Paragraph(f"{until} {rounding}" if quoted.valid_until else rounding)


def _changes(record: Record, version: Version) -> Iterator[Block]:
    """Show line by line what changed against the version before."""
    change = change_words(record, version)
    if change is None:
        return
    text = gettext("What changed against version {number}: {total}")
    yield Heading(text.format(number=change.version, total=change.total))
    if change.lines:
        heads = (gettext("What"), gettext("Net before"), gettext("Net now"), gettext("Difference"))
        yield Grid(heads, change.lines, shares=(0.55, 0.15, 0.15, 0.15))
    else:
        yield Paragraph(gettext("No line changed."))


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


def _answer(info: ShopInfo, number: str, quoted: QuotationWords) -> Iterator[Block]:
    total = quoted.total
    ways = ", ".join(filter(None, (info.phone, info.email)))
    text = gettext("Tell us here, or with the number {number} by message or telephone")
    also = gettext("And also optional line {number}, {text}: {net} {currency} net.")
    options = (
        also.format(number=x.number, text=x.text, net=x.net.strip("()"), currency=quoted.currency)
        for x in quoted.lines
        if x.optional
    )
    yield Heading(gettext("Your answer"))
    yield Paragraph(text.format(number=number) + (f": {ways}." if ways else "."))
    yield AnswerLines(
        (
            gettext("I accept quotation {number} for {total}.").format(number=number, total=total),
            *options,
            gettext("I decline it. Nothing is repaired; it stays switched off and labelled."),
        ),
        (gettext("Name"), gettext("Day"), gettext("Signature")),
    )


def _body(
    job: JobInfo, record: Record, version: Version, info: ShopInfo, words: Wording
) -> Iterator[Block]:
    approved = version.in_force and answered(record) == "approved"
    taken = taken_options(record, OPTION, version.number) if approved else None
    quoted = quotation_words(version.given.value, taken)
    number = quotation_number(job.number, version.number)
    then = record_after(record, version.given.entry)
    yield Heading(gettext("Quotation {number}").format(number=number), 1)
    if version.replaced_by:
        replaced = quotation_number(job.number, version.replaced_by)
        text = gettext("Replaced by version {version} ({number}). It can no longer be accepted.")
        yield Heading(text.format(version=version.replaced_by, number=replaced), 3)
    elif not version.in_force:
        yield Heading(gettext("Withdrawn. It can no longer be accepted."), 3)
    yield _parties(job, info)
    yield from _found(then, words)
    yield Heading(gettext("What it costs"))
    yield _lines(quoted)
    open_now = version.in_force and not answered(record)
    yield Together(
        (
            *_sums(quoted),
            *_left_out(then, quoted, words),
            *(_answer(info, number, quoted) if open_now else ()),
        )
    )
    if quoted.notes:
        yield Paragraph(quoted.notes)
    yield Together(tuple(_cautions()))
    yield from _changes(record, version)
    lines = tuple(version_words(record, each, words) for each in versions(record, QUOTATION))
    yield Together((Heading(gettext("Versions and answers")), Bullets(lines)))


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
        language=get_language() or "en",
        blocks=tuple(_body(job, record, version, info, words)),
        logo=shop.logo_bytes(),
    )
