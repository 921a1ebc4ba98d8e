"""What a customer needs to know where a job ends without a repair: declined, or nothing found.

Here: what the readings mean, how it leaves us, what is owed, what to watch. Not here: the answer in
one sentence (`jobs.report.summary`) and the rest of the report (`jobs.report.document`).
"""

from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext

from jobs.core.item import Item
from jobs.core.quoted import answers, in_force
from jobs.core.record import Record
from jobs.report.blocks import Block, Bullets, Grid, Heading, Paragraph, Proof, Together
from jobs.report.parts import Part, proof_rows
from jobs.report.quotation_words import answer_words
from jobs.report.wording import Wording
from jobs.steps.fault_localisation.items import (
    ANSWER,
    BILLED,
    CLOSED_UP,
    LABELLED,
    LID_BACK,
    QUOTATION,
    STOP,
    TOW_ONLY,
)
from jobs.steps.intake.items import PRICE_CAP
from jobs.steps.isolation_readings.items import BILLED as BILLED_NOT_FOUND
from jobs.steps.isolation_readings.items import CUSTOMER_TOLD, LEFT_HOW, REPEAT_METHOD
from workshop import figures_text

__all__ = ["ended_blocks"]

DECLINED, NOT_FOUND = "declined", "not_found"
READ_AGAIN = "Read again"
"""Title of the isolation readings' table of what was read again."""


def _ends(record: Record) -> str:
    return next((each.ends for each in record.signatures.values() if each.ends), "")


def _measured(part: Part, words: Wording) -> Iterator[Block]:
    """Give what was read of both sides, and where nothing showed how it was read again."""
    rows = proof_rows(part, words, limited=True)
    if rows:
        yield Proof((("", rows),))
    for table in part.section.tables:
        if table.title == READ_AGAIN:
            yield Heading(gettext(table.title), 3)
            yield Grid(
                tuple(words.words(heading) for heading in table.headings),
                tuple(tuple(words.words(cell) for cell in row) for row in table.rows),
                shares=table.shares,
            )
    method = part.shown.record.get(REPEAT_METHOD)
    if method:
        yield Paragraph(gettext("How it was read again: {method}").format(method=method))


def _meaning(ends: str) -> tuple[str, ...]:
    if ends == DECLINED:
        return (
            gettext(
                "With one leak nothing need be felt or seen. A second one, anywhere, closes a "
                "circuit through the body of the vehicle, or through a person who touches it."
            ),
            gettext(
                "That is why it stays switched off. Driving, charging and washing it can make the "
                "leak worse, and so can time."
            ),
        )
    return (
        gettext(
            "While we measured, both sides kept their limit, also wet, warm, loaded and a day "
            "later. A fault that comes and goes can be away for as long as that."
        ),
        gettext(
            "So this is no clearance: what the vehicle reported is not explained, and nothing was "
            "repaired."
        ),
    )


def _done(record: Record, item: Item[Any], words: Wording) -> str:
    """Say that something was done, by whom and when; empty where it is not recorded."""
    given = record.given(item)
    if given is None:
        return ""
    name, at = words.name(given.person), figures_text.moment(given.at, words.zone)
    return gettext("{what} ({name}, {at})").format(what=gettext(item.label), name=name, at=at)


def _left(record: Record, words: Wording) -> tuple[str, ...]:
    """Say how it leaves us: what was put back, labelled and told."""
    how, lines = record.given(LEFT_HOW), list[str]()
    if record.get(STOP) == "not_serviceable":
        lines.append(gettext("The lid turned out not to be serviceable; the work stopped there."))
    ticks = (LID_BACK, CLOSED_UP, LABELLED, TOW_ONLY, CUSTOMER_TOLD)
    lines += [done for item in ticks if (done := _done(record, item, words))]
    if how is not None:
        lines.append(words.value(LEFT_HOW, how.entry.value))
    if not record.lid_was_off:
        lines.append(gettext("The battery was not opened."))
    return tuple(lines)


def _owed(record: Record, words: Wording) -> tuple[str, ...]:
    """Say what is owed, and that nothing quoted is."""
    cap, lines = record.get(PRICE_CAP), list[str]()
    billed = record.get(BILLED)
    amount = record.get(BILLED_NOT_FOUND) if billed is None else billed
    if amount is not None:
        text = gettext("The diagnosis: {amount}.")
        within = gettext("The diagnosis: {amount}, within the {cap} that you agreed to.")
        cap_words = "" if cap is None else words.money(cap)
        lines.append(
            (within if cap_words else text).format(amount=words.money(amount), cap=cap_words)
        )
    version = in_force(record, QUOTATION)
    said = answers(record, QUOTATION, ANSWER, struck=False)
    if version is not None and said:
        quoted = version.given.value
        text = gettext(
            "Version {number} of our quotation, {total}: {answer}. Nothing of it is owed unless it "
            "is named above."
        )
        lines.append(
            text.format(
                number=version.number,
                total=figures_text.money(quoted.total, quoted.currency),
                answer=answer_words(record, said[-1], words, printed=True),
            )
        )
    return tuple(lines)


def _watch(ends: str) -> tuple[str, ...]:
    """Say what to look out for; danger first."""
    lines = [
        gettext(
            "Smoke, hissing, heat, swelling or a sharp smell: everybody away, doors closed, call "
            "the fire brigade. Say that it is a high-voltage battery with lost isolation."
        )
    ]
    if ends == DECLINED:
        lines += [
            gettext(
                "Whoever tows, stores or repairs it next has to be told; leave our label on it and "
                "hand this report on."
            ),
            gettext("Stand it outdoors, away from buildings and other vehicles, and keep it dry."),
        ]
    else:
        lines += [
            gettext(
                "Note when a warning returns: weather, speed, charging, washing, and what the "
                "display says. It shows us where to look."
            ),
            gettext(
                "Until it is explained, charge it only where somebody looks at it, and never with "
                "a warning on."
            ),
        ]
    return tuple(lines)


def ended_blocks(record: Record, parts: dict[str, Part], words: Wording) -> Iterator[Block]:
    """Give what only a report without a repair has.

    Parameters
    ----------
    record : Record
        The job as it stands.
    parts : dict[str, Part]
        Every step with what it says.
    words : Wording
        Names, zone and language.

    Returns
    -------
    Iterator[Block]
        Nothing where the job goes on or was repaired.
    """
    ends = _ends(record)
    if ends not in {DECLINED, NOT_FOUND}:
        return
    yield Heading(gettext("What we measured"))
    yield from _measured(parts["isolation_readings"], words)
    told = (
        (gettext("What it means"), _meaning(ends)),
        (gettext("How it leaves us"), _left(record, words)),
        (gettext("What you owe"), _owed(record, words)),
        (gettext("What to watch"), _watch(ends)),
    )
    for title, lines in told:
        if lines:
            yield Together((Heading(title), Bullets(lines)))
