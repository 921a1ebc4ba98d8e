"""The quotation on the page: what stands in its editor, and what is shown of a version.

The editor works on one JSON text, which is sent as it is; what counts is what the door makes of it.
"""

import json
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext

from jobs.core.entry import Entry, Json
from jobs.core.item import Item, Shape
from jobs.core.quotation import KINDS, PAYERS
from jobs.core.quoted import Version, answers, in_force, taken_options, versions
from jobs.core.record import Record
from jobs.report.quotation_words import (
    ChangeWords,
    QuotationWords,
    answer_words,
    change_words,
    quotation_words,
)
from jobs.report.wording import Wording
from jobs.steps.fault_localisation.assessment import assess
from jobs.steps.fault_localisation.items import ANSWER, ANSWERED, OPTION, QUOTATION, answered
from jobs.steps.isolation_readings.assessment import assess as assess_isolation

__all__ = ["Editor", "VersionShown", "editor_of", "version_shown"]

MOST_SUGGESTED = 4
"""Modules for which a replacement is proposed at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Editor:
    """What the editor starts with.

    Attributes
    ----------
    value : str
        JSON of the quotation it starts with.
    suggested : str
        JSON of proposed lines, without prices.
    suggestions : int
        How many lines are proposed.
    kinds : tuple[tuple[str, str], ...]
        What a line may be for, with its word.
    payers : tuple[tuple[str, str], ...]
        Who may pay a line, with the word.
    tax : str
        Rate of the tax that a new line starts with [%].
    version : int
        Which version is being written.
    copied : int
        From which version its lines come; 0 for none.
    """

    value: str
    suggested: str
    suggestions: int
    kinds: tuple[tuple[str, str], ...]
    payers: tuple[tuple[str, str], ...]
    tax: str
    version: int
    copied: int


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionShown:
    """A version on the page.

    Attributes
    ----------
    number : int
        Which version.
    words : QuotationWords
        Its table.
    answer : str
        What the customer answered to it; empty while nothing counts.
    stale : tuple[str, ...]
        Entries of an answer to an earlier version, which has to be renewed.
    stale_version : int
        The version that was answered.
    editor : Editor | None
        To write the next version; None where it was struck.
    change : ChangeWords | None
        What changed against the version before; None for the first.
    """

    number: int
    words: QuotationWords
    answer: str
    stale: tuple[str, ...]
    stale_version: int
    editor: Editor | None
    change: ChangeWords | None


def _percent(value: Decimal) -> str:
    return format(value.normalize(), "f")


def _line(kind: str, text: str, unit: str, tax: str, quantity: str = "") -> Json:
    return {
        "kind": kind,
        "text": text,
        "quantity": quantity,
        "unit": unit,
        "unit_price": "",
        "tax_percent": tax,
    }


def _proposed(record: Record, tax: str) -> list[Json]:
    """Propose lines for what the readings point at; nobody but the shop knows the prices."""
    found, hour, piece = assess(record), gettext("h"), gettext("piece")
    result = found.search.result
    likely = found.search.named or (() if result is None else result.likely[:MOST_SUGGESTED])
    parts = assess_isolation(record).vehicle.leaking
    texts = [gettext("Module {name}, replacement").format(name=name) for name in likely]
    texts += [gettext("{name}, replacement").format(name=name) for name in parts]
    lines = [_line("part", text, piece, tax, "1") for text in texts]
    if likely:
        lines += [
            _line("labour", gettext("Pack down, lid off, readings with links open"), hour, tax),
            _line("labour", gettext("Module out, module in, links torqued"), hour, tax),
            _line("labour", gettext("Lid on, isolation readings, seal test"), hour, tax),
            _line("labour", gettext("Pack back in, drive, reading the day after"), hour, tax),
            _line("consumable", gettext("Lid gasket or sealant, coolant"), piece, tax, "1"),
        ]
    elif parts:
        lines.append(_line("labour", gettext("Part out, part in, isolation readings"), hour, tax))
    return lines


def _as_typed(stored: Json) -> Json:
    """Give a stored quotation as the editor holds it, without what is computed."""
    names = ("kind", "text", "quantity", "unit", "unit_price", "tax_percent")
    return {
        "lines": [
            {
                **{name: line[name] for name in names},
                **({"payer": line["payer"]} if "payer" in line else {}),
                **({"optional": "yes"} if line.get("optional") else {}),
            }
            for line in stored["lines"]
        ],
        "valid_until": stored["valid_until"],
        "not_included": stored["not_included"],
        "notes": stored["notes"],
    }


def editor_of(record: Record, item: Item[Any], tax_percent: Decimal) -> Editor | None:
    """Give the editor of the next version; None where the item takes no quotation.

    Parameters
    ----------
    record : Record
        The job.
    item : Item
        What is asked.
    tax_percent : Decimal
        The shop's tax [%].

    Returns
    -------
    Editor | None
        With the lines of the version before, where there is one.
    """
    if item.shape is not Shape.QUOTATION:
        return None
    tax, earlier = _percent(tax_percent), versions(record, item)
    value = _as_typed(earlier[-1].given.entry.value) if earlier else {"lines": []}
    proposed = _proposed(record, tax)
    return Editor(
        value=json.dumps(value, ensure_ascii=False),
        suggested=json.dumps(proposed, ensure_ascii=False),
        suggestions=len(proposed),
        kinds=tuple((kind, gettext(word)) for kind, word in KINDS.items()),
        payers=tuple((payer, gettext(word)) for payer, word in PAYERS.items()),
        tax=tax,
        version=len(earlier) + 1,
        copied=earlier[-1].number if earlier else 0,
    )


def _stale(record: Record) -> tuple[tuple[str, ...], int]:
    """Give the entries of an answer that does not count, and the version it was given to."""
    given = answers(record, QUOTATION, ANSWER, struck=False)
    if not given or answered(record):
        return (), 0
    entries = (e for item in ANSWERED for e in record.live.get(item.key, ()))
    return tuple(e.key for e in entries if e.seq <= given[-1].entry.seq), given[-1].version


def _answer(record: Record, version: Version, words: Wording) -> str:
    given = answers(record, QUOTATION, ANSWER, struck=False)
    if not given or not answered(record) or given[-1].version != version.number:
        return ""
    return answer_words(record, given[-1], words, printed=False)


def version_shown(
    record: Record, entry: Entry, words: Wording, tax_percent: Decimal
) -> VersionShown | None:
    """Give what the page shows of a version, in force or struck.

    Parameters
    ----------
    record : Record
        The job.
    entry : Entry
        Its entry.
    words : Wording
        Names, zone and language.
    tax_percent : Decimal
        The shop's tax [%].

    Returns
    -------
    VersionShown | None
        None where the entry is no quotation.
    """
    if entry.item != QUOTATION.key:
        return None
    version = next(v for v in versions(record, QUOTATION) if v.given.entry.key == entry.key)
    counts = in_force(record, QUOTATION)
    mine = counts is not None and counts.number == version.number
    stale, number = _stale(record) if mine else ((), 0)
    approved = mine and answered(record) == "approved"
    taken = taken_options(record, OPTION, version.number) if approved else None
    return VersionShown(
        number=version.number,
        words=quotation_words(version.given.value, taken),
        answer=_answer(record, version, words) if mine else "",
        stale=stale,
        stale_version=number,
        editor=editor_of(record, QUOTATION, tax_percent) if mine else None,
        change=change_words(record, version),
    )
