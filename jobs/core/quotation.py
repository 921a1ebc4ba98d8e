"""A quotation: its lines, its tax by rate, its total, exact to the cent.

Here: the frozen `Quotation`, the arithmetic, and how it is stored and read back. Each line is
rounded half-up to the cent; tax is computed for each rate on the sum of its lines. A discount is a
line that is taken off; an optional line counts once the customer has taken it.
Not here: sums by kind and by who pays (`jobs.core.quotation_sums`), how typed input becomes one
(`jobs.core.quotation_input`), versions and the customer's answer (`jobs.core.quoted`), how an
amount is written for people (`workshop.figures_text`).
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from jobs.core.entry import Json

__all__ = [
    "CENT",
    "CUSTOMER",
    "DISCOUNT",
    "KINDS",
    "MONEY",
    "PAYERS",
    "Quotation",
    "QuotationLine",
    "TaxSum",
    "added_up",
    "read_quotation",
    "stored_quotation",
    "to_the_cent",
]

MONEY: Final = "money"
"""The unit of an item whose number is an amount in the shop's currency."""
CENT: Final = Decimal("0.01")
KINDS: Final = {
    "part": "Part",
    "labour": "Labour",
    "consumable": "Consumable",
    "disposal": "Disposal",
    "other": "Other",
    "discount": "Discount",
}
"""What a line is for, with the word that is shown."""
DISCOUNT: Final = "discount"
"""The kind of a line that is taken off."""
CUSTOMER: Final = "customer"
PAYERS: Final = {
    CUSTOMER: "Customer",
    "maker": "Maker's warranty",
    "insurer": "Insurer",
    "shop": "Our own warranty",
}
"""Who pays a line, with the word that is shown; the customer, unless a line says another."""


def to_the_cent(amount: Decimal) -> Decimal:
    """Round an amount half-up to the cent.

    Examples
    --------
    >>> to_the_cent(Decimal("0.005")), to_the_cent(Decimal("-0.005"))
    (Decimal('0.01'), Decimal('-0.01'))
    """
    return amount.quantize(CENT, ROUND_HALF_UP)


def _short(number: Decimal) -> str:
    """Write a number without zeros that say nothing."""
    text = format(number, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotationLine:
    """One line: so many units of something at a price, and the rate of its tax.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    text : str
        What it is.
    quantity : Decimal
        How many [the line's unit].
    unit : str
        The word of the unit ("h", "pieces"); may be empty.
    unit_price : Decimal
        Price of one unit without tax [currency of the quotation].
    tax_percent : Decimal
        Rate of the tax [%].
    payer : str
        One of `PAYERS`.
    optional : bool
        Whether it is done only where the customer takes it.
    """

    kind: str
    text: str
    quantity: Decimal
    unit: str
    unit_price: Decimal
    tax_percent: Decimal
    payer: str = CUSTOMER
    optional: bool = False

    @property
    def net(self) -> Decimal:
        """Quantity times unit price, half-up to the cent [currency]; a discount is negative.

        Examples
        --------
        >>> of = {"kind": "part", "text": "Sealant", "unit": "l", "tax_percent": Decimal(0)}
        >>> QuotationLine(quantity=Decimal("0.5"), unit_price=Decimal("0.05"), **of).net
        Decimal('0.03')
        """
        amount = to_the_cent(self.quantity * self.unit_price)
        return -amount if self.kind == DISCOUNT else amount


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxSum:
    """The lines of one rate: their sum and the tax on it [currency of the quotation]."""

    percent: Decimal
    net: Decimal
    tax: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Quotation:
    """A quotation with its totals.

    Attributes
    ----------
    lines : tuple[QuotationLine, ...]
        Its lines in order.
    net : Decimal
        Sum of the lines that are not optional [currency].
    taxes : tuple[TaxSum, ...]
        Tax of these lines for each rate above 0, lowest first.
    total : Decimal
        `net` and all taxes [currency].
    currency : str
        Three letters; empty only where it was never filled in.
    valid_until : date | None
        Last day on which it can be accepted.
    not_included : str
        What is not part of it, in the shop's own words.
    notes : str
        Anything else that is said to the customer.
    """

    lines: tuple[QuotationLine, ...]
    net: Decimal
    taxes: tuple[TaxSum, ...]
    total: Decimal
    currency: str = ""
    valid_until: date | None = None
    not_included: str = ""
    notes: str = ""

    @property
    def options(self) -> tuple[int, ...]:
        """The numbers of its optional lines, counted from 1."""
        return tuple(n for n, line in enumerate(self.lines, start=1) if line.optional)

    def with_options(self, taken: Collection[int]) -> "Quotation":
        """Give the quotation in which these optional lines are included like any other.

        Examples
        --------
        >>> of = {"kind": "part", "text": "Cap", "unit": "", "tax_percent": Decimal(0)}
        >>> one = QuotationLine(quantity=Decimal(1), unit_price=Decimal(9), optional=True, **of)
        >>> added_up((one,)).total, added_up((one,)).with_options({1}).total
        (Decimal('0.00'), Decimal('9.00'))
        """
        if not taken:
            return self
        lines = tuple(
            replace(line, optional=line.optional and number not in taken)
            for number, line in enumerate(self.lines, start=1)
        )
        return added_up(
            lines,
            currency=self.currency,
            valid_until=self.valid_until,
            not_included=self.not_included,
            notes=self.notes,
        )


def _taxes(lines: Iterable[QuotationLine]) -> tuple[TaxSum, ...]:
    nets: dict[Decimal, Decimal] = {}
    for line in lines:
        nets[line.tax_percent] = nets.get(line.tax_percent, Decimal(0)) + line.net
    return tuple(
        TaxSum(percent=percent, net=net, tax=to_the_cent(net * percent / 100))
        for percent, net in sorted(nets.items())
        if percent
    )


def added_up(
    lines: tuple[QuotationLine, ...],
    *,
    currency: str = "",
    valid_until: date | None = None,
    not_included: str = "",
    notes: str = "",
) -> Quotation:
    """Add lines up to a quotation.

    Parameters
    ----------
    lines : tuple[QuotationLine, ...]
        The lines, in order; their order changes no total.
    currency, valid_until, not_included, notes
        As in `Quotation`.

    Returns
    -------
    Quotation
        The quotation with its totals.

    Examples
    --------
    >>> of = {"kind": "labour", "text": "Opening", "unit": "h", "tax_percent": Decimal(20)}
    >>> one = QuotationLine(quantity=Decimal("1.5"), unit_price=Decimal("95.00"), **of)
    >>> found = added_up((one,), currency="EUR")
    >>> found.net, found.taxes[0].tax, found.total
    (Decimal('142.50'), Decimal('28.50'), Decimal('171.00'))
    """
    firm = tuple(line for line in lines if not line.optional)
    net = sum((line.net for line in firm), Decimal("0.00"))
    taxes = _taxes(firm)
    return Quotation(
        lines=lines,
        net=net,
        taxes=taxes,
        total=net + sum((each.tax for each in taxes), Decimal("0.00")),
        currency=currency,
        valid_until=valid_until,
        not_included=not_included,
        notes=notes,
    )


def _stored_line(line: QuotationLine) -> Json:
    return {
        "kind": line.kind,
        "text": line.text,
        "quantity": _short(line.quantity),
        "unit": line.unit,
        "unit_price": format(to_the_cent(line.unit_price), "f"),
        "tax_percent": _short(line.tax_percent),
        "net": format(line.net, "f"),
        **({} if line.payer == CUSTOMER else {"payer": line.payer}),
        **({"optional": True} if line.optional else {}),
    }


def stored_quotation(quotation: Quotation) -> Json:
    """Give a quotation as an entry keeps it: decimal strings, totals beside the lines."""
    return {
        "currency": quotation.currency,
        "lines": [_stored_line(line) for line in quotation.lines],
        "net": format(quotation.net, "f"),
        "taxes": [
            {
                "percent": _short(each.percent),
                "net": format(each.net, "f"),
                "tax": format(each.tax, "f"),
            }
            for each in quotation.taxes
        ],
        "total": format(quotation.total, "f"),
        "valid_until": "" if quotation.valid_until is None else quotation.valid_until.isoformat(),
        "not_included": quotation.not_included,
        "notes": quotation.notes,
    }


def _read_line(stored: Json) -> QuotationLine:
    return QuotationLine(
        kind=stored["kind"],
        text=stored["text"],
        quantity=Decimal(stored["quantity"]),
        unit=stored["unit"],
        unit_price=Decimal(stored["unit_price"]),
        tax_percent=Decimal(stored["tax_percent"]),
        payer=stored.get("payer", CUSTOMER),
        optional=stored.get("optional", False),
    )


def read_quotation(stored: Json) -> Quotation:
    """Read a quotation as an entry keeps it; the totals are the stored ones."""
    return Quotation(
        lines=tuple(_read_line(line) for line in stored["lines"]),
        net=Decimal(stored["net"]),
        taxes=tuple(
            TaxSum(
                percent=Decimal(each["percent"]),
                net=Decimal(each["net"]),
                tax=Decimal(each["tax"]),
            )
            for each in stored["taxes"]
        ),
        total=Decimal(stored["total"]),
        currency=stored["currency"],
        valid_until=date.fromisoformat(stored["valid_until"]) if stored["valid_until"] else None,
        not_included=stored["not_included"],
        notes=stored["notes"],
    )
