"""The server's word for who was signed on at a tablet, for entries that arrive later.

A ticket says who and since when, signed with the shop's key. It ends after a week, when the
person's PIN changes, and when they leave. It opens nothing by itself: acts that need a PIN go on
needing one. What an entry is, is the door's business.
"""

from datetime import datetime, timedelta
from typing import Final

from django.core import signing
from django.core.signing import BadSignature

from workshop import queries
from workshop.people import PersonInfo

__all__ = ["LASTS", "person_of_ticket", "ticket_for"]

LASTS: Final = timedelta(days=7)
_SALT: Final = "coldbus.ticket"


def ticket_for(person_id: str, mark: str, now: datetime) -> str:
    """Write a ticket for somebody who is signed on.

    Parameters
    ----------
    person_id, mark : str
        Who, and the mark of their session, which ends with their PIN.
    now : datetime
        The server's time (UTC).

    Returns
    -------
    str
        The ticket, at most some 200 letters.
    """
    said = {"p": person_id, "m": mark, "t": int(now.timestamp())}
    return signing.dumps(said, salt=_SALT)


def person_of_ticket(ticket: str, now: datetime) -> PersonInfo | None:
    """Give the person of a ticket, or None where it says nothing (any more)."""
    try:
        said = signing.loads(ticket, salt=_SALT)
    except BadSignature:
        return None
    age_s = now.timestamp() - said["t"]
    if not 0 <= age_s <= LASTS.total_seconds():
        return None
    return queries.person_of_session(said["p"], said["m"])
