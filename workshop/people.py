"""Roles and qualifications of the people in the shop, as data.

No Django and no stored people here: those are in ``workshop.models``. Which step asks for which
qualification is said by the step.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

FRONT_DESK: Final = "front_desk"
TECHNICIAN: Final = "technician"
MANAGER: Final = "manager"

ROLES: Final = {FRONT_DESK: "Front desk", TECHNICIAN: "Technician", MANAGER: "Manager"}
"""Role code to the title shown."""

LIVE_WORK: Final = "live_work"
SECOND_PERSON: Final = "second_person"
RELEASE: Final = "release"
COUNTERSIGN: Final = "countersign"

QUALIFICATIONS: Final = {
    LIVE_WORK: "Work on live high-voltage systems",
    SECOND_PERSON: "Second person at live work",
    RELEASE: "Release of vehicles and of danger signs",
    COUNTERSIGN: "Countersigning of shop limits",
}
"""Qualification code to the title shown. Local rules say what training stands behind each."""


@dataclass(frozen=True, slots=True)
class QualificationInfo:
    """One qualification of one person."""

    code: str
    expires_on: date | None
    certificate: str = ""

    @property
    def title(self) -> str:
        """The title shown for the code."""
        return QUALIFICATIONS.get(self.code, self.code)


@dataclass(frozen=True, slots=True)
class PersonInfo:
    """A person as pages and actions see one; never written into a job's record."""

    id: str
    display_name: str
    short_name: str
    role: str
    qualifications: tuple[QualificationInfo, ...]
    active: bool
    has_pin: bool = True
    has_password: bool = False
    pin_locked_until: datetime | None = None
    language: str = ""
    erased: bool = False

    @property
    def role_title(self) -> str:
        """The title shown for the role."""
        return ROLES.get(self.role, self.role)


def holds(person: PersonInfo, code: str, today: date) -> bool:
    """Say whether a person holds a qualification on a day.

    Parameters
    ----------
    person : PersonInfo
        The person; one who has left the shop holds nothing.
    code : str
        Qualification code, one of ``QUALIFICATIONS``.
    today : date
        Local date in the workshop's zone.

    Returns
    -------
    bool
        True up to and including the day of expiry.
    """
    return person.active and any(
        each.code == code and (each.expires_on is None or today <= each.expires_on)
        for each in person.qualifications
    )
