"""Every entry of a job in words, for the inspector's page and the technical record.

The sentence of a refusal stands with its reason; who asks brings the way from its code to it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext

from jobs.core.entry import Entry, Kind
from jobs.core.item import Item
from jobs.core.order import items_of
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.report.quotation_words import QuotationWords, quotation_words
from jobs.report.wording import Wording
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import QUOTATION

__all__ = ["Row", "SentenceOf", "items_by_key", "timeline"]


SentenceOf = Callable[[str], str]
Items = Mapping[str, Item[Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One entry in words."""

    seq: int
    at: datetime
    name: str
    what: str
    detail: str
    struck: str
    paper: str
    quotation: QuotationWords | None


def items_by_key(record: Record) -> Mapping[str, Item[Any]]:
    """Give every item a job asks or asked, by its key."""
    asked = (item for step in STEPS for item in (*step.retired, *items_of(step, record)))
    return {item.key: item for item in asked}


def _title(slug: str) -> str:
    return next((gettext(step.title) for step in STEPS if step.slug == slug), slug)


def _value(entry: Entry, items: Items, words: Wording) -> tuple[str, str]:
    item = items.get(entry.item)
    qualifier = words.qualifier(entry.qualifier)
    if item is None:
        return entry.item, qualifier
    label = gettext(item.label)
    return f"{label} ({qualifier})" if qualifier else label, words.value(item, entry.value)


def _quotation(entry: Entry) -> QuotationWords | None:
    """Give the table of a quotation."""
    if entry.kind is not Kind.VALUE or entry.item != QUOTATION.key:
        return None
    return quotation_words(QUOTATION.read(entry.value))


def _refused(entry: Entry, words: Wording, sentence_of: SentenceOf) -> tuple[str, str]:
    points = [
        words.said(Blocker(point["code"], sentence_of(point["code"]), params=point["params"]))
        for point in entry.value["blockers"]
    ]
    return gettext("Refused"), " ".join(points)


def _signed(entry: Entry, _items: Items, _words: Wording) -> tuple[str, str]:
    outcome = entry.value["outcome"]
    word = gettext("Signed as not needed") if outcome == "not_needed" else gettext("Signed")
    return word, _title(entry.value["step"])


def _reason(entry: Entry, _items: Items, _words: Wording) -> tuple[str, str]:
    titles = {
        Kind.STRIKE: gettext("Struck a value"),
        Kind.REOPEN: gettext("Re-opened {step}").format(step=_title(entry.value.get("step", ""))),
        Kind.COUNTERSIGN: gettext("Countersigned"),
        Kind.WITHDRAW: gettext("Equipment withdrawn"),
        Kind.REVISION: gettext("Pack definition"),
    }
    if entry.kind is Kind.WITHDRAW and entry.value.get("corrected"):
        return gettext("Equipment corrected"), entry.value["reason"]
    named = entry.value.get("slug", "")
    reason = entry.value.get("reason", "")
    detail = f"{named} {entry.value.get('number', '')} {reason}".strip() if named else reason
    return titles[entry.kind], detail


def _plain(entry: Entry, _items: Items, words: Wording) -> tuple[str, str]:
    if entry.kind is Kind.HOLD:
        return gettext("Hold point passed"), f"{_title(entry.value['step'])}: {entry.value['hold']}"
    if entry.kind is Kind.PROOF:
        return gettext("Circuit outside the pack proven dead"), words.name(entry.value["second"])
    if entry.kind is Kind.PROOF_END:
        return gettext("Proof ended"), gettext(entry.value["cause"].replace("_", " "))
    if entry.kind is Kind.CLOSE:
        return gettext("Closed"), gettext(entry.value["how"].replace("_", " "))
    return gettext("Booked in"), ""


_WORDS: Mapping[Kind, Callable[[Entry, Items, Wording], tuple[str, str]]] = {
    Kind.VALUE: _value,
    Kind.SIGN: _signed,
    Kind.STRIKE: _reason,
    Kind.REOPEN: _reason,
    Kind.COUNTERSIGN: _reason,
    Kind.WITHDRAW: _reason,
    Kind.REVISION: _reason,
}


def timeline(record: Record, words: Wording, sentence_of: SentenceOf) -> tuple[Row, ...]:
    """Put every entry of a record into words, in the order of the chain.

    Parameters
    ----------
    record : Record
        The job.
    words : Wording
        Its words.
    sentence_of : Callable
        Gives the sentence of a reason from its code.

    Returns
    -------
    tuple[Row, ...]
        One row an entry.
    """
    rows, items = [], items_by_key(record)
    for entry in record.entries:
        if entry.kind is Kind.REFUSAL:
            what, detail = _refused(entry, words, sentence_of)
        else:
            what, detail = _WORDS.get(entry.kind, _plain)(entry, items, words)
        rows.append(
            Row(
                seq=entry.seq,
                at=entry.at,
                name=words.name(entry.person),
                what=what,
                detail=detail,
                struck=record.gone.get(entry.key, ""),
                paper=words.from_paper(entry.paper),
                quotation=_quotation(entry),
            )
        )
    return tuple(rows)
