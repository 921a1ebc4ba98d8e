"""The customer's answer to a quotation: to which version it was given, and whether it counts.

Here: the answer in force, what is asked, what stands against it. Not here: versions and their
words (`jobs.core.quoted`), and what an approval opens (the rooms).
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from jobs.core.entry import Json
from jobs.core.item import Item, qualifier_of
from jobs.core.quotation import Quotation
from jobs.core.quote_items import QuoteItems
from jobs.core.quoted import Version, answers, in_force, taken_options
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Given, Record

__all__ = [
    "REASONS",
    "QuoteItems",
    "accepted",
    "answer_blockers",
    "answer_in_force",
    "asked_answer",
]

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
QUOTE_LAPSED = Reason(
    "localise_quote_lapsed",
    "Version {version} was valid until {until} and can no longer be approved. Make a new version "
    "and ask again.",
)
QUOTE_NOBODY = Reason(
    "localise_quote_nobody",
    "Nobody is named who answered version {version}. Enter first who answered, when and how.",
)
QUOTE_OPTIONS = Reason(
    "localise_quote_options",
    "Version {version} has optional lines: {lines}. Enter first what the customer says to each.",
)
QUOTE_OUTGROWN = Reason(
    "localise_quote_outgrown",
    "By now the work comes to {now_money}; version {version} comes to {total_money}. Make a new "
    "version and ask for that one.",
)
QUOTE_BEGUN = Reason(
    "localise_quote_begun",
    "The work that was approved before is done and signed, so this version cannot be declined "
    "here. Strike it and write down again what was approved, or re-open the step.",
)
REASONS = (
    QUOTE_OLD,
    QUOTE_VERSION,
    QUOTE_EXPIRED,
    QUOTE_LAPSED,
    QUOTE_NOBODY,
    QUOTE_OPTIONS,
    QUOTE_OUTGROWN,
    QUOTE_BEGUN,
)


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
    begun = answer.key.partition(".")[0] in record.signatures
    given = _answer(record, items, version)
    amount_only = version is None and record.has(items.amount)
    if amount_only or (given is not None and not given.entry.qualifier):
        return (replace(answer, many="one", qualifiers=()),)
    if version is None:
        kept = tuple(entry.qualifier for entry in record.live.get(answer.key, ()))
        return (replace(answer, offered=kept),) if kept else ()
    late = _overtaken(record, items, version)
    this = qualifier_of(version=str(version.number))
    asked = replace(
        answer,
        expected=(this,),
        barred=lambda _qualifier: late,
        refused=_judge(record, items, version, begun=begun),
    )
    return (*_options(items, version), asked)


def _options(items: QuoteItems, version: Version) -> tuple[Item[Any], ...]:
    """Ask for the customer's word on each optional line of the version in force."""
    numbers = version.given.value.options
    asked = tuple(qualifier_of(line=str(n), version=str(version.number)) for n in numbers)
    return (replace(items.option, expected=asked),) if asked else ()


def accepted(record: Record, items: QuoteItems, version: Version) -> Quotation:
    """Give a version with the optional lines that the customer took."""
    return version.given.value.with_options(taken_options(record, items.option, version.number))


def _named(record: Record, items: QuoteItems, version: Version) -> bool:
    """Tell whether somebody is named who answered this version, and how."""
    told = (record.given(items.how), record.given(items.who))
    return all(each is not None and each.seq > version.given.seq for each in told)


def _nobody(record: Record, items: QuoteItems, version: Version) -> Blocker | None:
    if _named(record, items, version):
        return None
    return QUOTE_NOBODY(items.who.key, version=version.number)


def _open_options(record: Record, items: QuoteItems, version: Version) -> Blocker | None:
    """Say which optional lines have no word of the customer yet."""
    number = str(version.number)
    said = {g.part("line") for g in record.all(items.option) if g.part("version") == number}
    left = [str(line) for line in version.given.value.options if str(line) not in said]
    if not left:
        return None
    return QUOTE_OPTIONS(items.option.key, version=version.number, lines=", ".join(left))


def _lapsed(record: Record, items: QuoteItems, version: Version) -> Blocker | None:
    until = version.given.value.valid_until
    if until is None or record.now.date() <= until:
        return None
    return QUOTE_LAPSED(items.quotation.key, version=version.number, until=until.isoformat())


def _outgrown(record: Record, items: QuoteItems, version: Version) -> Blocker | None:
    """Say that by what was entered the work comes to more than this version."""
    now, total = record.given(items.now), accepted(record, items, version).total
    if now is None or now.seq < version.given.seq or now.value <= float(total):
        return None
    return QUOTE_OUTGROWN(
        items.quotation.key,
        version=version.number,
        now_money=now.value,
        total_money=str(total),
    )


def _judge(
    record: Record, items: QuoteItems, version: Version, *, begun: bool
) -> Callable[[str, Json], Blocker | None]:
    """Give what stands against an answer to this version, at the moment it is entered."""

    def against(_qualifier: str, value: Json) -> Blocker | None:
        if value != "approved":
            late = QUOTE_BEGUN(items.answer.key) if begun else None
            return late or _nobody(record, items, version)
        return (
            _lapsed(record, items, version)
            or _outgrown(record, items, version)
            or _nobody(record, items, version)
            or _open_options(record, items, version)
        )

    return against


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
    nobody = None if version is None else _nobody(record, items, version)
    return [
        *([QUOTE_OLD(items.answer.key)] if changed else []),
        *_expired(items, version, answer),
        *([] if nobody is None else [nobody]),
    ]
