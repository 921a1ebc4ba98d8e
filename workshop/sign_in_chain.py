"""How a line of the log of ways in holds on to the one before it."""

import hashlib
import json
from datetime import UTC, datetime
from typing import Final, Protocol
from uuid import UUID

__all__ = ["FIRST", "Line", "line_digest"]

FIRST: Final = "0" * 64
"""What stands before the first line."""


class Line(Protocol):
    """What a line says."""

    at: datetime
    kind: str
    place: str

    @property
    def person_id(self) -> UUID | None:
        """Whose way in it was."""

    @property
    def by_id(self) -> UUID | None:
        """Who did it where it was somebody else."""


def line_digest(line: Line, previous: str) -> str:
    """Give the digest of a line: of what it says and of the one before it.

    Parameters
    ----------
    line : Line
        A row of the log.
    previous : str
        The digest of the row before; ``FIRST`` where there is none.

    Returns
    -------
    str
        A SHA-256 in hexadecimal digits.
    """
    content = {
        "at": line.at.astimezone(UTC).isoformat(timespec="microseconds"),
        "kind": line.kind,
        "person": None if line.person_id is None else str(line.person_id),
        "by": None if line.by_id is None else str(line.by_id),
        "place": line.place,
    }
    written = json.dumps(content, sort_keys=True).encode("ascii")
    return hashlib.sha256(previous.encode("ascii") + b"\n" + written).hexdigest()
