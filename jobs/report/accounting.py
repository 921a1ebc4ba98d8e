"""A job's lines for the accounting program: what was approved, what was fitted, what is owed.

Not an invoice: that one, its number and its tax are the accounting program's business. Here: the
rows of one job and of a period. Not here: how CSV is written (`workshop.csv_cells`).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.utils.translation import gettext

from jobs.core.quotation import KINDS, PAYERS, Quotation, to_the_cent
from jobs.core.quotation_sums import tax_rows
from jobs.core.quote_answer import answer_in_force
from jobs.core.quoted import in_force, taken_options
from jobs.core.record import Record
from jobs.queries.records import JobInfo
from jobs.report.parts import parts_of
from jobs.report.quotation import quotation_number
from jobs.report.wording import Wording, wording_of
from jobs.steps.fault_localisation.items import AMOUNT, BILLED, OPTION, QUOTATION, QUOTE
from jobs.steps.isolation_readings.items import BILLED as BILLED_NOT_FOUND
from workshop.csv_cells import csv_text, decimal_text

__all__ = ["accounting_csv", "accounting_rows", "headings"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One row: a line of the quotation, a tax, a part that was fitted, or a billed diagnosis.

    Amounts are in the shop's currency; None where a row has none.
    """

    row: str
    kind: str = ""
    what: str = ""
    quantity: Decimal | None = None
    unit: str = ""
    unit_price: Decimal | None = None
    net: Decimal | None = None
    tax_percent: Decimal | None = None
    gross: Decimal | None = None
    payer: str = ""
    quotation: str = ""
    approved_at: datetime | None = None


def headings() -> tuple[str, ...]:
    """Name the columns."""
    return (
        gettext("Job"),
        gettext("Closed on"),
        gettext("Ended as"),
        gettext("Customer"),
        gettext("Vehicle"),
        gettext("Row"),
        gettext("Kind"),
        gettext("What"),
        gettext("Quantity"),
        gettext("Unit"),
        gettext("Price of one"),
        gettext("Amount"),
        gettext("Tax, %"),
        gettext("Amount with tax"),
        gettext("Currency"),
        gettext("Paid by"),
        gettext("Quotation"),
        gettext("Approved on"),
        gettext("Note"),
    )


def _quoted(quotation: Quotation, named: str, at: datetime) -> Iterator[Line]:
    """Give the lines that were approved, then the tax of each payer and rate."""
    for line in quotation.lines:
        if line.optional:
            continue
        yield Line(
            row=gettext("line"),
            kind=gettext(KINDS[line.kind]),
            what=line.text,
            quantity=line.quantity,
            unit=line.unit,
            unit_price=line.unit_price,
            net=line.net,
            tax_percent=line.tax_percent,
            payer=gettext(PAYERS[line.payer]),
            quotation=named,
            approved_at=at,
        )
    for payer, rate, net, tax in tax_rows(quotation):
        yield Line(
            row=gettext("tax"),
            what=gettext("Tax on {net}").format(net=net),
            net=tax,
            tax_percent=rate,
            payer=gettext(PAYERS[payer]),
            quotation=named,
            approved_at=at,
        )


def _approved(job: JobInfo, record: Record) -> Iterator[Line]:
    answer, version = answer_in_force(record, QUOTE), in_force(record, QUOTATION)
    if answer is None or answer.value != "approved":
        return
    if version is not None:
        taken = taken_options(record, OPTION, version.number)
        quotation = version.given.value.with_options(taken)
        yield from _quoted(quotation, quotation_number(job.number, version.number), answer.at)
        return
    amount = record.get(AMOUNT)
    if amount is not None:
        gross = to_the_cent(Decimal(str(amount)))
        yield Line(
            row=gettext("line"),
            what=gettext("As approved, in one amount"),
            gross=gross,
            approved_at=answer.at,
        )


def _fitted(record: Record, words: Wording) -> Iterator[Line]:
    """Give what the record says went out and came in; it has no price of its own."""
    for part in parts_of(record).values():
        for table in part.section.tables:
            if not table.of_parts:
                continue
            for row in table.rows:
                cells = zip(table.headings, row, strict=True)
                said = (f"{words.words(head)}: {words.words(cell)}" for head, cell in cells)
                yield Line(row=gettext("fitted"), kind=gettext(table.title), what="; ".join(said))


def _labour_rate(record: Record) -> Decimal | None:
    """Give the tax on labour that was quoted; None where nothing was, or more than one rate."""
    version = in_force(record, QUOTATION)
    lines = () if version is None else version.given.value.lines
    rates = {line.tax_percent for line in lines if line.kind == "labour"}
    return rates.pop() if len(rates) == 1 else None


def _billed(record: Record) -> Iterator[Line]:
    """Give what is billed for the diagnosis where the job ended with it, and the tax within it.

    Whoever else would have paid for the repair pays nothing of it: the customer agreed to it.
    """
    payer, rate = gettext(PAYERS["customer"]), _labour_rate(record)
    for item in (BILLED, BILLED_NOT_FOUND):
        amount = record.get(item)
        if amount is None or not any(each.ends for each in record.signatures.values()):
            continue
        gross = to_the_cent(Decimal(str(amount)))
        net = None if rate is None else to_the_cent(gross / (1 + rate / 100))
        yield Line(
            row=gettext("diagnosis"),
            kind=gettext("Labour"),
            what=gettext("Diagnosis, the amount agreed with the customer"),
            net=net,
            tax_percent=rate,
            gross=gross,
            payer=payer,
        )
        if rate and net is not None:
            what = gettext("Tax on {net}").format(net=net)
            tax = gross - net
            yield Line(row=gettext("tax"), what=what, net=tax, tax_percent=rate, payer=payer)


def _ended(record: Record) -> str:
    ends = next((each.ends for each in record.signatures.values() if each.ends), "")
    words = {"declined": gettext("repair declined"), "not_found": gettext("fault not found")}
    if ends:
        return words.get(ends, ends)
    return gettext("handed over") if record.closed is not None else gettext("not closed")


def _day(moment: datetime | None, zone: ZoneInfo) -> str:
    return "" if moment is None else moment.astimezone(zone).date().isoformat()


def accounting_rows(
    job: JobInfo, record: Record, *, comma: bool = False
) -> tuple[tuple[str, ...], ...]:
    """Give a job's rows.

    Parameters
    ----------
    job : JobInfo
        The job.
    record : Record
        Its record as of now.
    comma : bool
        Whether decimals are parted by a comma.

    Returns
    -------
    tuple[tuple[str, ...], ...]
        Cells in the order of `headings`: approved lines and their tax, the billed diagnosis, parts
        fitted.
    """
    words = wording_of(job.id, record)
    version = in_force(record, QUOTATION)
    currency = words.currency if version is None else version.given.value.currency

    def number(value: Decimal | None) -> str:
        return "" if value is None else decimal_text(value, comma=comma)

    return tuple(
        (
            job.number,
            _day(job.closed_at, words.zone),
            _ended(record),
            job.customer.name,
            f"{job.title}, {job.plate}",
            line.row,
            line.kind,
            line.what,
            number(line.quantity),
            line.unit,
            number(line.unit_price),
            number(line.net),
            number(line.tax_percent),
            number(line.gross),
            currency if line.net is not None or line.gross is not None else "",
            line.payer,
            line.quotation,
            _day(line.approved_at, words.zone),
            gettext("not an invoice"),
        )
        for line in (*_approved(job, record), *_billed(record), *_fitted(record, words))
    )


def accounting_csv(jobs: Iterable[tuple[JobInfo, Record]], *, comma: bool) -> bytes:
    """Write the rows of jobs as CSV.

    Parameters
    ----------
    jobs : Iterable[tuple[JobInfo, Record]]
        Jobs with their records.
    comma : bool
        Whether decimals are parted by a comma and columns by a semicolon.

    Returns
    -------
    bytes
        The file.
    """
    rows = (row for job, record in jobs for row in accounting_rows(job, record, comma=comma))
    return csv_text(headings(), rows, separator=";" if comma else ",").encode()
