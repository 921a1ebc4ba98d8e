"""What the work may come to: what the customer approved, before that the price cap.

Here: what stands against going on where the work has grown, or a new version has no answer.
Not here: when an answer counts at all (`jobs.core.quote_answer`).
"""

from decimal import Decimal

from jobs.core.item import Item
from jobs.core.quote_answer import accepted, answer_blockers, answer_in_force
from jobs.core.quote_items import QuoteItems
from jobs.core.quoted import in_force
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record

__all__ = ["REASONS", "approved_total", "growth_blockers", "over_cap", "standing_blockers"]

QUOTE_GROWN = Reason(
    "quote_grown",
    "By now the work comes to {now_money}, above the {allowed_money} that the customer approved. "
    "Stop here; make a new version of the quotation and have it approved.",
)
QUOTE_OVER_CAP = Reason(
    "quote_over_cap",
    "By now the diagnosis comes to {now_money}, above the price cap of {cap_money}. Ask the "
    "customer before anything more is done.",
)
QUOTE_UNANSWERED = Reason(
    "quote_unanswered",
    "Version {version} of the quotation is not approved yet. Go on once the customer has approved "
    "it.",
)
OVER_CAP = Reason(
    "localise_over_price_cap",
    "{billed_money} is above the price cap of {cap_money} that was agreed.",
)
REASONS = (QUOTE_GROWN, QUOTE_OVER_CAP, QUOTE_UNANSWERED)


def approved_total(record: Record, items: QuoteItems) -> Decimal | None:
    """Give what the customer approved, with the optional lines taken [shop's currency].

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : QuoteItems
        The items of its quotation.

    Returns
    -------
    Decimal | None
        None while nothing is approved.
    """
    answer = answer_in_force(record, items)
    if answer is None or answer.value != "approved":
        return None
    version, amount = in_force(record, items.quotation), record.get(items.amount)
    if version is not None:
        return accepted(record, items, version).total
    return None if amount is None else Decimal(str(amount))


def growth_blockers(record: Record, items: QuoteItems, cap: Item[float]) -> list[Blocker]:
    """Say that the work has grown over what it may come to.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : QuoteItems
        The items of its quotation.
    cap : Item[float]
        The price cap of the diagnosis, which counts until something is approved.

    Returns
    -------
    list[Blocker]
        Empty where nobody said that it grew, or it stays within.
    """
    now, approved = record.get(items.now), approved_total(record, items)
    if now is None:
        return []
    if approved is not None:
        grown = QUOTE_GROWN(items.now.key, now_money=now, allowed_money=str(approved))
        return [grown] if now > float(approved) else []
    agreed = record.get(cap)
    if agreed is None or now <= agreed or in_force(record, items.quotation) is not None:
        return []
    return [QUOTE_OVER_CAP(items.now.key, now_money=now, cap_money=agreed)]


def standing_blockers(record: Record, items: QuoteItems, cap: Item[float]) -> tuple[Blocker, ...]:
    """Say what in the quotation stands against signing a step after the one that asked it.

    Returns
    -------
    tuple[Blocker, ...]
        The work has grown, or a newer version has no approval that counts.
    """
    slug = items.answer.key.partition(".")[0]
    version, signed = in_force(record, items.quotation), record.signatures.get(slug)
    if signed is None:
        return ()
    late = version is not None and version.given.seq > signed.seq
    if version is None or not late:
        return tuple(growth_blockers(record, items, cap))
    answer = answer_in_force(record, items)
    if answer is None:
        return (QUOTE_UNANSWERED(items.answer.key, version=version.number),)
    return (*answer_blockers(record, items), *growth_blockers(record, items, cap))


def over_cap(record: Record, billed: Item[float], cap: Item[float]) -> list[Blocker]:
    """Say that more is billed for the diagnosis than was agreed."""
    amount, agreed = record.get(billed), record.get(cap)
    if amount is None or agreed is None or amount <= agreed:
        return []
    return [OVER_CAP(billed.key, billed_money=amount, cap_money=agreed)]
