"""Sums of a quotation beside its total: by kind of line, and by who pays.

Each payer's tax is rounded half-up for each rate; the customer, else the last who pays something at
that rate, bears what is left of the rate's tax, so that the shares always add up to the total.
"""

from dataclasses import dataclass
from decimal import Decimal

from jobs.core.quotation import (
    CUSTOMER,
    DISCOUNT,
    KINDS,
    PAYERS,
    Quotation,
    QuotationLine,
    to_the_cent,
)

__all__ = ["Share", "by_kind", "by_payer", "overdone_discount", "split", "tax_rows"]

NOTHING = Decimal("0.00")
_ORDER = (*(payer for payer in PAYERS if payer != CUSTOMER), CUSTOMER)


@dataclass(frozen=True, slots=True)
class Share:
    """What one payer pays [currency of the quotation]."""

    payer: str
    net: Decimal
    tax: Decimal

    @property
    def total(self) -> Decimal:
        """Net and tax."""
        return self.net + self.tax


def _firm(quotation: Quotation) -> tuple[QuotationLine, ...]:
    return tuple(line for line in quotation.lines if not line.optional)


def by_kind(quotation: Quotation) -> tuple[tuple[str, Decimal], ...]:
    """Give the net sum of each kind of line that is there, in the order of `KINDS`.

    Returns
    -------
    tuple[tuple[str, Decimal], ...]
        Kind and net sum [currency]; optional lines are not among them.
    """
    firm = _firm(quotation)
    return tuple(
        (kind, sum((line.net for line in firm if line.kind == kind), NOTHING))
        for kind in KINDS
        if any(line.kind == kind for line in firm)
    )


def _nets(lines: tuple[QuotationLine, ...]) -> dict[tuple[str, Decimal], Decimal]:
    nets: dict[tuple[str, Decimal], Decimal] = {}
    for line in lines:
        at = (line.payer, line.tax_percent)
        nets[at] = nets.get(at, NOTHING) + line.net
    return nets


def _taxes(nets: dict[tuple[str, Decimal], Decimal], percent: Decimal) -> dict[str, Decimal]:
    """Part the tax of one rate among those who pay at it."""
    whole = sum((net for (_, rate), net in nets.items() if rate == percent), NOTHING)
    left, shares = to_the_cent(whole * percent / 100), dict[str, Decimal]()
    paying = [payer for payer in _ORDER if nets.get((payer, percent), NOTHING)]
    for payer in paying[:-1]:
        shares[payer] = to_the_cent(nets[payer, percent] * percent / 100)
        left -= shares[payer]
    return {**shares, paying[-1]: left} if paying else {}


def tax_rows(quotation: Quotation) -> tuple[tuple[str, Decimal, Decimal, Decimal], ...]:
    """Give payer, rate [%], net and tax for each payer and rate above 0; all add up to the taxes.

    Returns
    -------
    tuple[tuple[str, Decimal, Decimal, Decimal], ...]
        In the order of `PAYERS`, lowest rate first; amounts in the quotation's currency.
    """
    nets = _nets(_firm(quotation))
    rates = sorted({rate for _, rate in nets if rate})
    taxes = {rate: _taxes(nets, rate) for rate in rates}
    return tuple(
        (payer, rate, nets[payer, rate], taxes[rate].get(payer, NOTHING))
        for payer in PAYERS
        for rate in rates
        if (payer, rate) in nets
    )


def by_payer(quotation: Quotation) -> tuple[Share, ...]:
    """Give what each payer pays of the lines that are not optional; the shares add up to the total.

    Returns
    -------
    tuple[Share, ...]
        In the order of `PAYERS`; only those who have a line.

    Examples
    --------
    >>> from jobs.core.quotation import added_up
    >>> of = {"kind": "part", "unit": "", "quantity": Decimal(1), "tax_percent": Decimal(20)}
    >>> one = QuotationLine(text="Module", unit_price=Decimal(100), payer="insurer", **of)
    >>> two = QuotationLine(text="Gasket", unit_price=Decimal(10), **of)
    >>> [(each.payer, str(each.total)) for each in by_payer(added_up((one, two)))]
    [('customer', '12.00'), ('insurer', '120.00')]
    """
    nets, taxes = _nets(_firm(quotation)), tax_rows(quotation)
    return tuple(
        Share(
            payer,
            sum((net for (who, _), net in nets.items() if who == payer), NOTHING),
            sum((tax for who, _, _, tax in taxes if who == payer), NOTHING),
        )
        for payer in PAYERS
        if any(who == payer for who, _ in nets)
    )


def split(quotation: Quotation) -> bool:
    """Tell whether somebody else than the customer pays any line of it."""
    return any(line.payer != CUSTOMER for line in quotation.lines)


def overdone_discount(quotation: Quotation) -> int:
    """Give the number of the line by which a discount exceeds what it is taken off; 0 for none."""
    nets = _nets(_firm(quotation))
    return next(
        (
            number
            for number, line in enumerate(quotation.lines, start=1)
            if line.kind == DISCOUNT and nets[line.payer, line.tax_percent] < 0
        ),
        0,
    )
