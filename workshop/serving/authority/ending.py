"""What a manager has to know of certificates that end: the server's, where nobody made it anew.

The running server makes its own certificate anew in time (`workshop.serving.renewal`); what is
left to tell is what it cannot do, and the end of the authority, which tablets would have to trust.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from workshop.serving.authority import keeping

__all__ = ["AUTHORITY_TOLD_BEFORE", "Ending", "ending"]

AUTHORITY_TOLD_BEFORE: Final = timedelta(days=365)
GRACE: Final = timedelta(days=1)
"""How long the running server has had to make its certificate anew before that is told."""


@dataclass(frozen=True, slots=True)
class Ending:
    """Whole days until an end; None where there is nothing to tell of it.

    ``key_here`` tells whether the authority's key lies in the data folder.
    """

    server_days: int | None
    authority_days: int | None
    key_here: bool

    def __bool__(self) -> bool:
        """Tell whether there is anything to say."""
        return self.server_days is not None or self.authority_days is not None


def _days_left(until: datetime | None, before: timedelta, now: datetime) -> int | None:
    if until is None or until - now >= before:
        return None
    return max(0, (until - now) // timedelta(days=1))


def ending(folder: Path, now: datetime) -> Ending:
    """Say which certificates of a data folder end.

    Parameters
    ----------
    folder : Path
        The data folder.
    now : datetime
        The time (UTC).
    """
    told = keeping.told(folder)
    if told is None:
        return Ending(None, None, key_here=False)
    return Ending(
        _days_left(told.server_until, keeping.RENEW_BEFORE - GRACE, now),
        _days_left(told.until, AUTHORITY_TOLD_BEFORE, now),
        told.key_here,
    )
