"""A quotation in words: its table, its versions, what the customer answered to each.

Used by the pages and by the printed quotation. Not here: the arithmetic (`jobs.core.quotation`)
and which version counts (`jobs.core.quoted`).
"""

from dataclasses import dataclass

from django.utils.translation import gettext

from jobs.core.quotation import KINDS, Quotation, QuotationLine
from jobs.core.quoted import Answered, Version, answers, versions
from jobs.core.record import Record
from jobs.report.wording import Wording
from jobs.steps.fault_localisation.items import ANSWER, QUOTATION, QUOTE_HOW, QUOTE_WHO
from workshop import figures_text

__all__ = [
    "LineWords",
    "QuotationWords",
    "answer_words",
    "quotation_words",
    "version_words",
]

DIGITS = 12
"""A quantity is written as it was typed, not rounded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineWords:
    """A line in words; amounts without the currency, which stands in the heading."""

    number: str
    kind: str
    text: str
    quantity: str
    unit_price: str
    tax: str
    net: str


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotationWords:
    """A quotation in words.

    Attributes
    ----------
    lines : tuple[LineWords, ...]
        Its lines.
    currency : str
        In which the lines' amounts are.
    net, total : str
        Sums with the currency.
    taxes : tuple[tuple[str, str], ...]
        Rate and amount of each tax; empty where no line carries any.
    valid_until : str
        The last day; empty where there is none.
    not_included, notes : str
        The shop's own words.
    """

    lines: tuple[LineWords, ...]
    currency: str
    net: str
    taxes: tuple[tuple[str, str], ...]
    total: str
    valid_until: str
    not_included: str
    notes: str


def _line(number: int, line: QuotationLine) -> LineWords:
    return LineWords(
        number=str(number),
        kind=gettext(KINDS[line.kind]),
        text=line.text,
        quantity=figures_text.quantity(line.quantity, line.unit, DIGITS),
        unit_price=figures_text.money(line.unit_price, ""),
        tax=figures_text.quantity(line.tax_percent, "percent", DIGITS),
        net=figures_text.money(line.net, ""),
    )


def quotation_words(quotation: Quotation) -> QuotationWords:
    """Put a quotation into words.

    Parameters
    ----------
    quotation : Quotation
        As it was entered.

    Returns
    -------
    QuotationWords
        The same in words, in the reader's language.
    """
    taxes = tuple(
        (
            gettext("Tax {percent} on {net}").format(
                percent=figures_text.quantity(each.percent, "percent", DIGITS),
                net=figures_text.money(each.net, quotation.currency),
            ),
            figures_text.money(each.tax, quotation.currency),
        )
        for each in quotation.taxes
    )
    until = quotation.valid_until
    return QuotationWords(
        lines=tuple(_line(number, line) for number, line in enumerate(quotation.lines, start=1)),
        currency=quotation.currency,
        net=figures_text.money(quotation.net, quotation.currency),
        taxes=taxes,
        total=figures_text.money(quotation.total, quotation.currency),
        valid_until="" if until is None else figures_text.day(until),
        not_included=quotation.not_included,
        notes=quotation.notes,
    )


def _before(record: Record, key: str, answered: Answered) -> object:
    """Give the last value of an item that was entered with an answer: before it, not since."""
    mine = [e for e in record.entries if e.item == key and e.seq < answered.entry.seq]
    return mine[-1].value if mine else None


def answer_words(record: Record, answered: Answered, words: Wording, *, printed: bool) -> str:
    """Say what the customer answered, how, when, and the amount of the version answered.

    Parameters
    ----------
    record : Record
        The job.
    answered : Answered
        One answer.
    words : Wording
        Names, zone and language.
    printed : bool
        Whether it stands in a printed history: with who answered, as it was noted, and without
        the amount, which stands before it.

    Returns
    -------
    str
        One line.
    """
    how, person = (_before(record, item.key, answered) for item in (QUOTE_HOW, QUOTE_WHO))
    parts = [words.value(ANSWER, answered.answer)]
    if how is not None:
        parts.append(words.value(QUOTE_HOW, how))
    if printed and isinstance(person, dict):
        parts.append(words.erasable(person["ref"]))
    parts.append(figures_text.moment(answered.entry.at, words.zone))
    quoted = [each for each in versions(record, QUOTATION) if each.number == answered.version]
    if quoted and not printed:
        total = quoted[0].given.value
        parts.append(figures_text.money(total.total, total.currency))
    return ", ".join(parts)


def version_words(record: Record, version: Version, words: Wording) -> str:
    """Say what became of one version: its day, its total, its answers, what replaced it.

    Parameters
    ----------
    record : Record
        The job.
    version : Version
        One version of its quotation.
    words : Wording
        Names, zone and language.

    Returns
    -------
    str
        One sentence.
    """
    quotation, said = version.given.value, list[str]()
    for each in answers(record, QUOTATION, ANSWER):
        if each.version == version.number:
            line = answer_words(record, each, words, printed=True)
            struck = gettext(" (struck: {reason})").format(reason=each.struck)
            said.append(line + (struck if each.struck and version.in_force else ""))
    if version.replaced_by:
        text = gettext("replaced by version {number}: {reason}")
        said.append(text.format(number=version.replaced_by, reason=version.struck))
    elif version.struck:
        said.append(gettext("withdrawn: {reason}").format(reason=version.struck))
    return gettext("Version {number}, {day}, {total}: {said}").format(
        number=version.number,
        day=figures_text.day(version.given.at.astimezone(words.zone).date()),
        total=figures_text.money(quotation.total, quotation.currency),
        said="; ".join(said) or gettext("not answered yet"),
    )
