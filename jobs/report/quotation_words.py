"""A quotation in words: its table, its versions, what the customer answered to each.

Used by the pages and by the printed quotation. Not here: the arithmetic (`jobs.core.quotation`)
and which version counts (`jobs.core.quoted`).
"""

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext

from jobs.core.quotation import CUSTOMER, KINDS, PAYERS, Quotation, QuotationLine
from jobs.core.quotation_change import changed
from jobs.core.quotation_sums import by_kind, by_payer, split
from jobs.core.quoted import Answered, Version, answers, taken_options, versions
from jobs.core.record import Record
from jobs.report.wording import Wording
from jobs.steps.fault_localisation.items import ANSWER, OPTION, QUOTATION, QUOTE_HOW, QUOTE_WHO
from workshop import figures_text

__all__ = [
    "ChangeWords",
    "LineWords",
    "QuotationWords",
    "answer_words",
    "change_words",
    "quotation_words",
    "version_words",
]

DIGITS = 12
"""A quantity is written as it was typed, not rounded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineWords:
    """A line in words; amounts without the currency, which stands in the heading.

    What is not in the total stands in brackets.
    """

    number: str
    kind: str
    text: str
    quantity: str
    unit_price: str
    tax: str
    net: str
    remarks: tuple[str, ...] = ()
    optional: bool = False

    @property
    def kind_words(self) -> str:
        """What it is for, that it is optional, and who pays it where not the customer."""
        return ", ".join((self.kind, *self.remarks))


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
    kinds : tuple[tuple[str, str], ...]
        Net sum of each kind of line; empty where there is only one kind.
    payers : tuple[tuple[str, str], ...]
        Share of each payer with tax; empty where the customer pays all of it.
    with_options : str
        Total if every optional line is taken; empty where there is none.
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
    kinds: tuple[tuple[str, str], ...]
    payers: tuple[tuple[str, str], ...]
    with_options: str
    valid_until: str
    not_included: str
    notes: str


def _remarks(line: QuotationLine, number: int, taken: frozenset[int] | None) -> tuple[str, ...]:
    """Say that a line is optional, or what became of it, and who pays it."""
    payer = "" if line.payer == CUSTOMER else gettext(PAYERS[line.payer])
    if not line.optional:
        option = ""
    elif taken is None:
        option = gettext("optional")
    else:
        option = gettext("taken") if number in taken else gettext("left out")
    return tuple(filter(None, (option, payer)))


def _net(line: QuotationLine, number: int, taken: frozenset[int] | None) -> str:
    """Write what a line costs; in brackets where that is not in the total."""
    amount = figures_text.money(line.net, "")
    counts = not line.optional or number in (taken or ())
    return amount if counts else f"({amount})"


def _line(number: int, line: QuotationLine, taken: frozenset[int] | None) -> LineWords:
    return LineWords(
        number=str(number),
        kind=gettext(KINDS[line.kind]),
        text=line.text,
        quantity=figures_text.quantity(line.quantity, line.unit, DIGITS),
        unit_price=figures_text.money(line.unit_price, ""),
        tax=figures_text.quantity(line.tax_percent, "percent", DIGITS),
        net=_net(line, number, taken),
        remarks=_remarks(line, number, taken),
        optional=line.optional,
    )


def _sums(quotation: Quotation) -> dict[str, tuple[tuple[str, str], ...]]:
    """Give the sums by kind and by payer, where there is more than one to tell apart."""
    kinds, shares = by_kind(quotation), by_payer(quotation) if split(quotation) else ()
    money = quotation.currency
    return {
        "kinds": tuple(
            (gettext(KINDS[kind]), figures_text.money(net, money))
            for kind, net in (kinds if len(kinds) > 1 else ())
        ),
        "payers": tuple(
            (gettext(PAYERS[share.payer]), figures_text.money(share.total, money))
            for share in shares
        ),
    }


def quotation_words(quotation: Quotation, taken: frozenset[int] | None = None) -> QuotationWords:
    """Put a quotation into words.

    Parameters
    ----------
    quotation : Quotation
        As it was entered.
    taken : frozenset[int] | None
        The optional lines that the customer took; None while nothing is approved. Sums include
        those taken.

    Returns
    -------
    QuotationWords
        The same in words, in the reader's language.
    """
    lines = tuple(
        _line(number, line, taken) for number, line in enumerate(quotation.lines, start=1)
    )
    left = taken is None and quotation.options
    every = quotation.with_options(quotation.options).total
    quotation = quotation.with_options(taken or frozenset())
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
        lines=lines,
        currency=quotation.currency,
        net=figures_text.money(quotation.net, quotation.currency),
        taxes=taxes,
        total=figures_text.money(quotation.total, quotation.currency),
        **_sums(quotation),
        with_options=figures_text.money(every, quotation.currency) if left else "",
        valid_until="" if until is None else figures_text.day(until),
        not_included=quotation.not_included,
        notes=quotation.notes,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeWords:
    """What changed against an earlier version, in words.

    Attributes
    ----------
    version : int
        The earlier version.
    lines : tuple[tuple[str, str, str, str], ...]
        What, net before, net now, and the difference with its sign.
    total : str
        By how much the total changed, with its sign and currency.
    """

    version: int
    lines: tuple[tuple[str, str, str, str], ...]
    total: str


def _difference(amount: Decimal, currency: str = "") -> str:
    return ("+" if amount > 0 else "") + figures_text.money(amount, currency)


def change_words(record: Record, version: Version) -> ChangeWords | None:
    """Say what a version changed against the one before it; None for the first.

    Parameters
    ----------
    record : Record
        The job.
    version : Version
        One version of its quotation.

    Returns
    -------
    ChangeWords | None
        Line by line, only those that differ.
    """
    earlier = next((v for v in versions(record, QUOTATION) if v.number == version.number - 1), None)
    if earlier is None:
        return None
    found, nothing = changed(earlier.given.value, version.given.value), figures_text.NONE
    rows = tuple(
        (
            each.line.text,
            nothing if each.before is None else figures_text.money(each.before.net, ""),
            nothing if each.after is None else figures_text.money(each.after.net, ""),
            _difference(each.net_difference),
        )
        for each in found.lines
    )
    total = _difference(found.total_difference, version.given.value.currency)
    return ChangeWords(version=earlier.number, lines=rows, total=total)


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
        if answered.answer == "approved":
            total = total.with_options(taken_options(record, OPTION, answered.version))
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
    taken = taken_options(record, OPTION, version.number)
    quotation, said = version.given.value.with_options(taken), list[str]()
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
