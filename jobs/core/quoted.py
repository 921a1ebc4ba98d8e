"""Versions of a quotation and what the customer answered to each, read from the record.

A quotation is an entry; a later one is the next version. An answer names the version it was given
to, so that one sent late never counts for a version the customer has not seen. One from before
answers did so belongs to the version that stood before it in the chain.
"""

from dataclasses import dataclass
from typing import Any

from jobs.core.entry import Entry, Kind
from jobs.core.item import Item, qualifier_parts
from jobs.core.once import once_a_record
from jobs.core.quotation import Quotation
from jobs.core.reason import Param
from jobs.core.record import Given, Record
from jobs.core.section import Fact, Said

__all__ = [
    "Answered",
    "Version",
    "answers",
    "approved_said",
    "in_force",
    "lapsed_said",
    "quoted_facts",
    "taken_options",
    "versions",
]

_ANSWERS = {
    "approved": "Version {version}: {total_money}, approved",
    "declined": "Version {version}: {total_money}, declined",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One version of the quotation.

    Attributes
    ----------
    number : int
        Counted from 1, struck versions included.
    given : Given[Quotation]
        The quotation with its entry.
    struck : str
        Why it was struck; empty while it is in force.
    replaced_by : int
        Number of the version after it; 0 where there is none.
    """

    number: int
    given: Given[Quotation]
    struck: str
    replaced_by: int

    @property
    def in_force(self) -> bool:
        """Whether it is the quotation that counts."""
        return not self.struck


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """What the customer answered: in which word, to which version (0: to none), with the entry."""

    answer: str
    version: int
    entry: Entry
    struck: str


def _entered(record: Record, item: Item[Any]) -> tuple[Entry, ...]:
    return tuple(e for e in record.entries if e.kind is Kind.VALUE and e.item == item.key)


def versions(record: Record, item: Item[Quotation]) -> tuple[Version, ...]:
    """Give every version of the quotation, oldest first.

    Parameters
    ----------
    record : Record
        The job.
    item : Item[Quotation]
        The item that asks for the quotation.

    Returns
    -------
    tuple[Version, ...]
        Struck and voided ones included.
    """
    entered = _entered(record, item)
    return tuple(
        Version(
            number=number,
            given=Given(item.read(entry.value), entry),
            struck=record.gone.get(entry.key, ""),
            replaced_by=number + 1 if number < len(entered) else 0,
        )
        for number, entry in enumerate(entered, start=1)
    )


@once_a_record
def in_force(record: Record, item: Item[Quotation]) -> Version | None:
    """Give the version that counts; None while there is none."""
    return next((each for each in reversed(versions(record, item)) if each.in_force), None)


def _answered_version(quoted: tuple[Entry, ...], answer: Entry) -> int:
    """Give the version an answer names; one that names none was given to the one before it."""
    named = qualifier_parts(answer.qualifier).get("version")
    return int(named) if named else sum(each.seq < answer.seq for each in quoted)


def answers(
    record: Record, item: Item[Quotation], answer: Item[str], *, struck: bool = True
) -> tuple[Answered, ...]:
    """Give what the customer answered, oldest first, with the version each answer was given to.

    Parameters
    ----------
    record : Record
        The job.
    item : Item[Quotation]
        The item that asks for the quotation.
    answer : Item[str]
        The item that asks for the answer.
    struck : bool
        Whether answers that were struck are wanted too.

    Returns
    -------
    tuple[Answered, ...]
        An answer to version 0 was given before there was any.
    """
    entered = _entered(record, item)
    return tuple(
        Answered(
            answer=answer.read(entry.value),
            version=_answered_version(entered, entry),
            entry=entry,
            struck=record.gone.get(entry.key, ""),
        )
        for entry in _entered(record, answer)
        if struck or entry.key not in record.gone
    )


def taken_options(record: Record, option: Item[str], version: int) -> frozenset[int]:
    """Give the numbers of the optional lines that the customer took of a version.

    Parameters
    ----------
    record : Record
        The job.
    option : Item[str]
        The item that takes the customer's word on an optional line.
    version : int
        Which version.

    Returns
    -------
    frozenset[int]
        Lines counted from 1.
    """
    said = (given for given in record.all(option) if given.part("version") == str(version))
    return frozenset(int(given.part("line")) for given in said if given.value == "taken")


def _params(
    version: Version, record: Record, answer: str, option: Item[str] | None
) -> dict[str, Param]:
    """Name the version, and what it comes to with the optional lines that were approved."""
    quotation = version.given.value
    if answer == "approved" and option is not None:
        quotation = quotation.with_options(taken_options(record, option, version.number))
    total = f"{quotation.total} {quotation.currency}".strip()
    return {"version": version.number, "total_money": total}


def approved_said(
    record: Record, item: Item[Quotation], answer: str, option: Item[str] | None = None
) -> tuple[Said, ...]:
    """Say to the customer which version they approved and what it comes to."""
    version = in_force(record, item)
    if version is None or answer != "approved":
        return ()
    text = "You approved version {version} of our quotation: {total_money}."
    return (Said(text, _params(version, record, answer, option)),)


def quoted_facts(
    record: Record, item: Item[Quotation], answer: str, option: Item[str] | None = None
) -> tuple[Fact, ...]:
    """Give the quotation in force: its version, its total, and what was answered."""
    version = in_force(record, item)
    if version is None:
        return ()
    text = _ANSWERS.get(answer, "Version {version}: {total_money}, not answered yet")
    return (Fact(label="Quotation", value=Said(text, _params(version, record, answer, option))),)


def lapsed_said(record: Record, item: Item[Quotation], answer: str) -> tuple[Said, ...]:
    """Warn where the quotation's last day is over and nobody has answered it."""
    version = in_force(record, item)
    until = None if version is None else version.given.value.valid_until
    if version is None or until is None or answer or record.now.date() <= until:
        return ()
    text = "Version {version} of the quotation was valid until {until}. Agree it again or renew it."
    return (Said(text, {"version": version.number, "until": until.isoformat()}),)
