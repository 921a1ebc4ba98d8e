"""The receipt that a customer takes along: what came in, in which state, what we may do and spend.

Here: what is said and in which order; the answers of intake stand under their own headings, so that
what intake asks is what the receipt shows. Not here: how it looks (`jobs.report.pdf`).
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext, ngettext

from jobs.core.item import Item, Shape
from jobs.core.order import items_of
from jobs.core.record import Record
from jobs.queries.records import JobInfo
from jobs.report.blocks import (
    AnswerLines,
    Block,
    Bullets,
    Grid,
    Heading,
    Paragraph,
    Parties,
    Pictures,
    Report,
    Together,
)
from jobs.report.parts import framed
from jobs.report.wording import Wording, wording_of
from jobs.steps import STEPS
from jobs.steps.intake.items import AUTHORITY, COMPLAINT, CONSENT, PRICE_CAP, dangers
from workshop import figures_text
from workshop import queries as shop
from workshop.registers import ShopInfo

__all__ = ["receipt_document"]

INTAKE = STEPS[0]
_APART = (COMPLAINT.key, CONSENT.key, PRICE_CAP.key, AUTHORITY.key)
"""What stands in sentences of its own."""


def _parties(job: JobInfo, info: ShopInfo, booked: str) -> Block:
    customer, vehicle = job.customer, job.vehicle
    reached = (*customer.address.splitlines(), customer.phone, customer.email)
    about = (job.title, job.plate, "" if vehicle is None else vehicle.vin)
    return Parties(
        (
            (gettext("Brought by"), tuple(filter(None, (customer.name, *reached)))),
            (gettext("Vehicle or pack"), tuple(dict.fromkeys(filter(None, about)))),
            (
                gettext("Taken in by"),
                tuple(filter(None, (info.name, info.phone, info.email, booked))),
            ),
        )
    )


def _rows(record: Record, items: Iterable[Item[Any]], words: Wording) -> Iterator[tuple[str, str]]:
    for item in items:
        for given in record.all(item):
            which = words.qualifier(given.entry.qualifier)
            label = ", ".join(filter(None, (gettext(item.label), which)))
            yield label, words.value(item, given.entry.value)


def _photos(record: Record) -> str:
    count = sum(
        len(record.all(item)) for item in items_of(INTAKE, record) if item.shape is Shape.PHOTO
    )
    kept = ngettext("{count}, kept with the job", "{count}, kept with the job", count)
    return kept.format(count=count) if count else gettext("none taken on arrival")


def _taken_in(record: Record, words: Wording) -> Iterator[Block]:
    """Give every answer of intake, in the order in which it was asked."""
    asked = (
        item
        for item in INTAKE.items(record)
        if item.key not in _APART and item.shape is not Shape.PHOTO
    )
    photos = (gettext("Photos of its condition"), _photos(record))
    yield Heading(gettext("What we took in"))
    yield Grid((gettext("Asked"), gettext("Answer")), (*_rows(record, asked, words), photos))


def _agreed(record: Record, words: Wording) -> Iterator[Block]:
    """Say what was told and agreed: the diagnosis, what it may cost, that words are kept."""
    cap, complaint = record.get(PRICE_CAP), record.get(COMPLAINT)
    yield Heading(gettext("What you told us, and what we agreed"))
    if complaint is not None:
        yield Paragraph(gettext("“{words}”").format(words=words.erasable(complaint.ref)))
    if cap is None:
        lines = [gettext("No price cap is agreed yet. Nothing that costs anything is done.")]
    else:
        text = gettext(
            "We may look for the fault and spend up to {cap} on it. Nothing beyond that is done "
            "without asking you, and nothing is repaired before you have approved a quotation."
        )
        lines = [text.format(cap=words.money(cap))]
    lines.append(
        gettext(
            "You agreed that we keep your name, how to reach you and what you told us for this "
            "job. You may ask us to erase it; readings and signatures of the work stay."
        )
        if record.has(CONSENT)
        else gettext("Your consent that we keep your name and contact is not recorded yet.")
    )
    yield Bullets(tuple(lines))


def _cautions(record: Record, info: ShopInfo) -> Iterator[Block]:
    """Say what is dangerous about it while it stands here, and how to reach us."""
    lines = [
        gettext(
            "Its high-voltage system has lost isolation or is suspected to have: do not switch it "
            "on, charge it, or fetch it without us. It is moved by tow only, after asking us."
        ),
        gettext(
            "The battery stays live inside even when everything is switched off. Only qualified "
            "people work on it, by the maker's service information and local rules."
        ),
        gettext(
            "Smoke, hissing, heat or a sharp smell: keep away and call the fire brigade first, "
            "then us{ways}."
        ).format(ways=f" ({info.phone})" if info.phone else ""),
    ]
    if dangers(record):
        lines.append(
            gettext("It showed signs of danger on arrival; it stands outdoors under watch for it.")
        )
    yield Heading(gettext("Until you have it back"))
    yield Bullets(tuple(lines))


def _by(record: Record, words: Wording) -> str:
    """Say who took it in and when; while nobody signed the intake, that."""
    signed = record.signatures.get(INTAKE.slug)
    if signed is None:
        return gettext("Intake not signed yet")
    at = figures_text.moment(signed.at, words.zone)
    said = gettext("Taken in and looked at by {name}, {at}.")
    return said.format(name=words.name(signed.by.id), at=at)


def _signatures(record: Record, words: Wording) -> Iterator[Block]:
    """Show what the customer signed, or leave room for it; and who took the vehicle in."""
    given, signed = record.given(AUTHORITY), record.signatures.get(INTAKE.slug)
    yield Heading(gettext("Signatures"), 3)
    if given is not None:
        drawn = words.signature(given.value.ref)
        said = gettext("Authority for the diagnosis up to the price cap: {given}, {at}.")
        at = figures_text.moment(given.at, words.zone)
        how = words.erasable(given.value.ref) if drawn is None else gettext("signed below")
        # Who took it in stands at the foot of every page; here it would begin a second one.
        yield Paragraph(said.format(given=how, at=at))
        if drawn is not None:
            yield Pictures((drawn,))
    elif signed is not None:
        yield Paragraph(_by(record, words))
    if given is None or signed is None:
        answer = gettext("Customer: handed over as described, receipt taken along.")
        ours = gettext("Workshop: taken in as described.")
        yield AnswerLines(
            (answer, ours), (gettext("Day"), gettext("Customer"), gettext("Workshop"))
        )


def receipt_document(job: JobInfo, record: Record) -> Report:
    """Put the receipt of a job together.

    Parameters
    ----------
    job : JobInfo
        The job.
    record : Record
        Its record as of now.

    Returns
    -------
    Report
        The document as data.
    """
    info, words = shop.shop(), wording_of(job.id, record)
    title = gettext("Receipt {number}").format(number=job.number)
    arrived = figures_text.moment(job.opened_at, words.zone)
    booked = gettext("Job {number}, booked in {at}.").format(number=job.number, at=arrived)
    blocks: tuple[Block, ...] = (
        Heading(gettext("Receipt for what you left with us"), 1),
        _parties(job, info, booked),
        *_agreed(record, words),
        *_taken_in(record, words),
        Together(tuple(_cautions(record, info))),
        Together(tuple(_signatures(record, words))),
    )
    framing = framed(job, record, words, title=title, blocks=blocks)
    return replace(framing, signed=_by(record, words))
