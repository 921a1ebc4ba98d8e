"""What a step asks about a quotation: what is quoted, who answered how, and the answer.

Here: the items, and what was billed where the work ends early. Not here: when an answer counts
(`jobs.core.quote_answer`), what the work may come to (`jobs.core.quote_growth`).
"""

from typing import Any, Final, NamedTuple

from jobs.core.item import Choice, Item, choice, personal, quotation, reading, text
from jobs.core.quotation import MONEY, Quotation
from jobs.core.snapshot import PersonalRef

__all__ = ["DESK", "QuoteItems", "billed_item", "quote_items"]

DESK: Final = ("front_desk", "technician", "manager")
MOST: Final = 1e6
"""Above this somebody mistyped [the shop's currency]."""


class QuoteItems(NamedTuple):
    """Items of a quotation: what is quoted, in words and lines, who answered, and the answer.

    `amount` is what was quoted before quotations had lines. `option` takes the customer's word on
    each optional line, `now` what the work comes to where it grows.
    """

    candidates: Item[str]
    quotation: Item[Quotation]
    amount: Item[float]
    how: Item[str]
    who: Item[PersonalRef]
    option: Item[str]
    answer: Item[str]
    now: Item[float]


def _answering(
    slug: str, more: dict[str, Any]
) -> tuple[Item[str], Item[PersonalRef], Item[str], Item[str]]:
    """Give the items of the answer: how it came, from whom, which options, and what it was."""
    how = (
        Choice("here", "Signed here"),
        Choice("message", "By message or e-mail, kept"),
        Choice("phone", "By telephone"),
    )
    said = (Choice("approved", "Approved"), Choice("declined", "Declined"))
    options = (Choice("taken", "Taken"), Choice("left", "Left out"))
    return (
        choice(f"{slug}.quote_how", "How the customer answered", how, **more),
        personal(f"{slug}.quote_who", "Who answered, and when", **more),
        choice(
            f"{slug}.option",
            "Optional line",
            options,
            many="each",
            qualifiers=("line", "version"),
            help="What the customer says to it; the total that is approved follows from that.",
            **more,
        ),
        choice(
            f"{slug}.answer",
            "The customer's answer",
            said,
            many="each",
            qualifiers=("version",),
            **more,
        ),
    )


def _now(slug: str, more: dict[str, Any]) -> Item[float]:
    """Give the item for what the work comes to where it grows; at any time of the job."""
    return reading(
        f"{slug}.cost_now",
        "What the work comes to by now, with tax",
        unit=MONEY,
        low=0,
        high=MOST,
        many="free",
        needed=False,
        anytime=True,
        help="Only where it grows. Above what was approved, nothing more is signed until the "
        "customer has approved a new version.",
        **more,
    )


def quote_items(slug: str, group: str) -> QuoteItems:
    """Give the items of a step's quotation.

    Parameters
    ----------
    slug : str
        The step.
    group : str
        Heading under which the page shows them.

    Returns
    -------
    QuoteItems
        As asked while the step is open.
    """
    more = {"group": group, "by": DESK}
    return QuoteItems(
        text(
            f"{slug}.candidates",
            "Candidates, and what is proposed",
            help="In words the customer was given: which modules or parts, opening, closing, "
            "tests.",
            **more,
        ),
        quotation(
            f"{slug}.quotation",
            "Quotation",
            help="Lines with quantity and price; tax and total are computed. Never name the "
            "customer.",
            **more,
        ),
        reading(
            f"{slug}.amount",
            "Amount of the quotation",
            unit=MONEY,
            low=0,
            high=MOST,
            help="Asked before quotations had lines; only shown where it was entered then.",
            **more,
        ),
        *_answering(slug, {**more, "on_paper": False}),
        _now(slug, more),
    )


def billed_item(slug: str, group: str) -> Item[float]:
    """Give the item for what is billed where the work ends with the diagnosis."""
    return reading(
        f"{slug}.billed",
        "Diagnosis billed",
        unit=MONEY,
        low=0,
        high=MOST,
        group=group,
        by=DESK,
        help="Within the price cap.",
    )
