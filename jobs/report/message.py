"""Short messages to a customer, made from the job: ready, a quotation waits, the day has moved.

Here: the words, which the desk may change before they go. Nothing is sent from here: the device's
own program for messages does that. What is not true of the job is not offered.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.utils.translation import gettext

from jobs.core.desk import PROMISE_REASONS, PROMISED, DeskEvent
from jobs.core.order import open_step
from jobs.core.quoted import Version, in_force
from jobs.core.record import Record
from jobs.queries.records import JobInfo
from jobs.report.summary import summary_of
from jobs.report.wording import Wording
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import QUOTATION, answered, stopped
from workshop import figures_text
from workshop import queries as shop

__all__ = ["Case", "message_of", "messages_of"]


@dataclass(frozen=True, slots=True)
class Case:
    """What a message is made from."""

    job: JobInfo
    record: Record
    words: Wording
    events: tuple[DeskEvent, ...]

    @property
    def vehicle(self) -> str:
        """Title and plate, as the customer knows it."""
        return ", ".join(filter(None, (self.job.title, self.job.plate)))

    def amount(self, version: Version) -> str:
        """Write the total of a quotation."""
        quoted = version.given.value
        return self.words.money(f"{quoted.total} {quoted.currency}".strip())


def _from_us() -> str:
    """Say who writes and how to reach the workshop."""
    here = shop.shop()
    phone = gettext("Telephone {phone}.").format(phone=here.phone) if here.phone else ""
    hours = ", ".join(here.opening_hours.splitlines())
    told = gettext("Open: {hours}.").format(hours=hours) if hours else ""
    return " ".join(filter(None, (f"{here.name}.", phone, told)))


def _ready(case: Case) -> str:
    """Say that the vehicle can be collected, what came out, what is due; "" while it cannot."""
    if open_step(STEPS, case.record) is not None:
        return ""
    results = {step.slug: step.assess(case.record) for step in STEPS}
    summary = summary_of(case.record, results)
    ready = gettext("{vehicle} is ready to collect (job {number}).")
    told = [ready.format(vehicle=case.vehicle, number=case.job.number)]
    told.append(case.words.said(summary.headline))
    version = in_force(case.record, QUOTATION)
    if version is not None and answered(case.record) == "approved":
        due = gettext("Agreed by quotation {number}: {amount}.")
        told.append(due.format(number=version.number, amount=case.amount(version)))
    told += [case.words.said(each) for each in summary.watch]
    return " ".join([*told, _from_us()])


def _quotation(case: Case) -> str:
    """Say that a quotation waits for the answer; "" where none does."""
    version = in_force(case.record, QUOTATION)
    if version is None or answered(case.record) or stopped(case.record):
        return ""
    quoted = version.given.value
    text = gettext("Our quotation for {vehicle} waits for your answer (job {number}): {amount}.")
    told = [text.format(vehicle=case.vehicle, number=case.job.number, amount=case.amount(version))]
    if quoted.valid_until is not None:
        until = gettext("It is valid until {day}.")
        told.append(until.format(day=figures_text.day(quoted.valid_until)))
    told.append(gettext("Work goes on when you have answered."))
    return " ".join([*told, _from_us()])


def _moved(case: Case) -> str:
    """Say that the promised day moved, to when and why; "" where it never did."""
    moves = [each for each in case.events if each.kind == PROMISED and each.values.get("before")]
    after = moves[-1].values.get("after", "") if moves else ""
    if not moves:
        return ""
    text = gettext("{vehicle} (job {number}): we cannot say yet when it will be ready.")
    if after:
        text = gettext("{vehicle} (job {number}): it will be ready on {day}.")
    day = figures_text.day(date.fromisoformat(after)) if after else ""
    told = [text.format(vehicle=case.vehicle, number=case.job.number, day=day)]
    why = moves[-1].values.get("why", "")
    if why and why != "other":
        reason = gettext(PROMISE_REASONS.get(why, why))
        told.append(gettext("The reason: {reason}.").format(reason=reason))
    return " ".join([*told, _from_us()])


_MADE: Final[dict[str, Callable[[Case], str]]] = {
    "ready": _ready,
    "quotation": _quotation,
    "moved": _moved,
}
"""How each message is made."""


def message_of(kind: str, case: Case) -> str:
    """Give the words of a message.

    Parameters
    ----------
    kind : str
        One of `jobs.core.desk.TEXTS`.
    case : Case
        The job.

    Returns
    -------
    str
        Empty where it would not be true, or there is no such message.
    """
    made = _MADE.get(kind)
    return "" if made is None else made(case)


def messages_of(case: Case) -> dict[str, str]:
    """Give every message that is true of a job, by its kind."""
    found = {kind: message_of(kind, case) for kind in _MADE}
    return {kind: text for kind, text in found.items() if text}
