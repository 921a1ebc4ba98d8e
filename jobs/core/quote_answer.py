"""The customer's answer to a quotation: to which version it was given, and whether it counts.

Here: the answer in force, what is asked, what stands against it. Not here: versions and their
words (`jobs.core.quoted`), and what an approval opens (the rooms).
"""

from dataclasses import replace
from typing import Any, NamedTuple

from jobs.core.item import Item, qualifier_of
from jobs.core.quotation import Quotation
from jobs.core.quoted import Version, answers, in_force
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Given, Record

__all__ = ["REASONS", "QuoteItems", "answer_blockers", "answer_in_force", "asked_answer"]

QUOTE_OLD = Reason(
    "localise_quote_old",
    "The customer answered before candidates or amount were changed. Strike the answer and ask "
    "again.",
)
QUOTE_VERSION = Reason(
    "localise_quote_version",
    "The customer answered version {answered}; version {version} is open. Ask again for this one.",
)
QUOTE_EXPIRED = Reason(
    "localise_quote_expired",
    "The customer approved version {version} after its last day; it was valid until {until}. Make "
    "a new version and ask again.",
)
REASONS = (QUOTE_OLD, QUOTE_VERSION, QUOTE_EXPIRED)


class QuoteItems(NamedTuple):
    """Items of a quotation: what is quoted, in words and lines, and the answer.

    `amount` is what was quoted before quotations had lines.
    """

    candidates: Item[str]
    quotation: Item[Quotation]
    amount: Item[float]
    answer: Item[str]


def _answer(record: Record, items: QuoteItems, version: Version | None) -> Given[str] | None:
    plain = [given for given in record.all(items.answer) if not given.entry.qualifier]
    if version is None:
        return plain[-1] if plain and record.has(items.amount) else None
    named = record.given(items.answer, qualifier_of(version=str(version.number)))
    if named is None and plain and plain[-1].seq > version.given.seq:
        return plain[-1]
    return named


def answer_in_force(record: Record, items: QuoteItems) -> Given[str] | None:
    """Give the customer's answer to the quotation in force.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : QuoteItems
        The step's own items.

    Returns
    -------
    Given[str] | None
        None while there is none.

    Notes
    -----
    An answer names the version it was given to. One from before answers did so belongs to the
    version entered before it, or to the amount of a record without quotations.
    """
    return _answer(record, items, in_force(record, items.quotation))


def _overtaken(record: Record, items: QuoteItems, version: Version) -> Blocker | None:
    """Say that the customer answered something quoted before the version in force."""
    earlier = answers(record, items.quotation, items.answer, struck=False)
    if not earlier or _answer(record, items, version) is not None:
        return None
    number, key = earlier[-1].version, items.answer.key
    if not number:
        return QUOTE_OLD(key)
    return QUOTE_VERSION(key, answered=number, version=version.number)


def asked_answer(record: Record, items: QuoteItems) -> tuple[Item[Any], ...]:
    """Give the item for the answer, which takes one to the version in force and to no other.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : QuoteItems
        The step's own items.

    Returns
    -------
    tuple[Item, ...]
        Empty where there is nothing to answer and no answer either.
    """
    version, answer = in_force(record, items.quotation), items.answer
    given = _answer(record, items, version)
    amount_only = version is None and record.has(items.amount)
    if amount_only or (given is not None and not given.entry.qualifier):
        return (replace(answer, many="one", qualifiers=()),)
    if version is None:
        kept = tuple(entry.qualifier for entry in record.live.get(answer.key, ()))
        return (replace(answer, offered=kept),) if kept else ()
    late = _overtaken(record, items, version)
    this = qualifier_of(version=str(version.number))
    return (replace(answer, expected=(this,), barred=lambda _qualifier: late),)


def _expired(items: QuoteItems, version: Version | None, answer: Given[str]) -> list[Blocker]:
    """Say that the version in force was approved after the last day on which it could be."""
    until = None if version is None else version.given.value.valid_until
    if version is None or until is None or answer.value != "approved":
        return []
    if answer.at.date() <= until:
        return []
    key = items.quotation.key
    return [QUOTE_EXPIRED(key, version=version.number, until=until.isoformat())]


def answer_blockers(record: Record, items: QuoteItems) -> list[Blocker]:
    """Ask for an answer to what is quoted now, not to something quoted before or run out.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : QuoteItems
        The step's own items.

    Returns
    -------
    list[Blocker]
        Empty while there is no answer at all.
    """
    version = in_force(record, items.quotation)
    answer = _answer(record, items, version)
    if answer is None:
        late = None if version is None else _overtaken(record, items, version)
        return [] if late is None else [late]
    words = (record.given(items.candidates), record.given(items.amount))
    changed = any(one is not None and one.seq > answer.seq for one in words)
    return [*([QUOTE_OLD(items.answer.key)] if changed else []), *_expired(items, version, answer)]
