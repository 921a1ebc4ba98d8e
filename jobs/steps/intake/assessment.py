"""What the answers of intake come to: danger, trouble codes, and what the VIN says.

Pure and total. Not here: what blocks (`gate`) and how it is said (`section`).
"""

import re
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from jobs.core.once import once_a_record
from jobs.core.record import Record
from jobs.steps.intake.items import (
    ACUTE,
    AUTHORITY,
    PRICE_CAP,
    TRIAGE,
    TROUBLE_CODES,
    VIN,
    WATCH_RELEASE,
    dangers,
    pack_alone,
)
from packs.physics.instrument import Message
from packs.physics.vin import vin

RELEASERS = ("live_work", "release")
"""Qualifications of which one is needed to release from the outdoor watch."""

ISOLATION_FAULT = "P0AA6"
SENSOR_CODES = frozenset({"P0AA7", "P0AA8", "P0AA9", "P0AAB"})
"""Codes about the circuit that watches the isolation, not about the isolation."""

MEANINGS: Final = MappingProxyType(
    {
        ISOLATION_FAULT: "Isolation fault of the high-voltage system",
        "P0AA7": "The isolation sensor's circuit",
        "P0AA8": "The isolation sensor: range or performance",
        "P0AA9": "The isolation sensor's circuit: low",
        "P0AAB": "The isolation sensor's circuit: intermittent",
        "P0A0A": "Interlock circuit of the high-voltage system",
        "P0D15": "Interlock circuit of the charging system: open",
        "P0A95": "High-voltage fuse",
        "P0C76": "Discharge of the high-voltage system takes too long",
        "P0AA1": "Positive contactor stuck closed",
    }
)
"""Meaning of the few codes that several makers' documents agree on: SAE J2012."""

_CODE = re.compile(r"(?<![A-Z0-9])[PCBU](?=[O0-9A-F]*[0-9])[0-3O][0-9A-FO]{3}(?![A-Z0-9])")


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """What the answers come to.

    Attributes
    ----------
    pack_alone : bool
        Whether a pack arrived without its vehicle.
    codes : tuple[str, ...]
        Trouble codes found in what was written.
    triage : str
        The answer in force; empty while there is none.
    danger : str
        The worst sign of danger not released, else the last recorded; empty for none.
    released : bool
        Whether a qualified person released it after every sign of danger.
    released_by : str
        Identifier of whoever signed the release, qualified or not; empty for nobody.
    vin_faults : tuple[Message, ...]
        Why the VIN cannot be right.
    vin_warnings : tuple[Message, ...]
        What to look at again in the VIN.
    authority_covers_cap : bool
        Whether the customer signed after the price cap in force was entered.
    """

    pack_alone: bool
    codes: tuple[str, ...]
    triage: str
    danger: str
    released: bool
    released_by: str
    vin_faults: tuple[Message, ...]
    vin_warnings: tuple[Message, ...]
    authority_covers_cap: bool


def parse_codes(written: str) -> tuple[str, ...]:
    """Find the trouble codes in what was written.

    Parameters
    ----------
    written : str
        Free text.

    Returns
    -------
    tuple[str, ...]
        Each code once, in order; letter, digit 0 to 3, three hexadecimal digits.

    Notes
    -----
    A letter O is read as zero, since no code has one and a missed code may be the one that
    forbids trusting the waiting time. Form of the codes: SAE J2012 and ISO 15031-6.

    Examples
    --------
    >>> parse_codes("p0aa6-00, POC76 stored; P0AA6 again")
    ('P0AA6', 'P0C76')
    >>> parse_codes("none")
    ()
    """
    found = (match[0].replace("O", "0") for match in _CODE.finditer(written.upper()))
    return tuple(dict.fromkeys(found))


def codes(record: Record) -> tuple[str, ...]:
    """Give the trouble codes recorded at intake."""
    return parse_codes(record.get(TROUBLE_CODES) or "")


def _release_seq(record: Record) -> int:
    """Give the place of the release in the chain; 0 while no qualified person has released."""
    given = record.given(WATCH_RELEASE)
    if given is None or not any(given.value.holds(code, given.at.date()) for code in RELEASERS):
        return 0
    return given.seq


def _danger(record: Record) -> tuple[str, bool]:
    signs, release = dangers(record), _release_seq(record)
    standing = [str(sign.value) for sign in signs if sign.seq > release]
    if standing:
        return (ACUTE if ACUTE in standing else standing[-1]), False
    return (str(signs[-1].value), True) if signs else ("", False)


def _vin(record: Record) -> tuple[tuple[Message, ...], tuple[Message, ...]]:
    typed = record.get(VIN)
    if typed is None or pack_alone(record):
        return (), ()
    messages = vin(typed).warnings
    short = any(message.code == "frame_number" for message in messages)
    blocking = {"characters"} if short else {"characters", "length"}
    warnings = {"frame_number", "check_digit"}
    return (
        tuple(message for message in messages if message.code in blocking),
        tuple(message for message in messages if message.code in warnings),
    )


def _covered(record: Record) -> bool:
    cap, authority = record.given(PRICE_CAP), record.given(AUTHORITY)
    return cap is not None and authority is not None and authority.seq > cap.seq


@once_a_record
def assess(record: Record) -> Intake:
    """Say what the answers come to; total."""
    danger, released = _danger(record)
    release = record.get(WATCH_RELEASE)
    faults, warnings = _vin(record)
    return Intake(
        pack_alone=pack_alone(record),
        codes=codes(record),
        triage=record.get(TRIAGE) or "",
        danger=danger,
        released=released,
        released_by="" if release is None else release.id,
        vin_faults=faults,
        vin_warnings=warnings,
        authority_covers_cap=_covered(record),
    )
