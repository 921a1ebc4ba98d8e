"""Identifiers are text outside the database; how long a list and a search may be."""

from typing import Final
from uuid import UUID

Id = str | UUID
NIL: Final = UUID(int=0)
LIST_LENGTH: Final = 100
SEARCH_LENGTH: Final = 60


def uuid_of(given: Id) -> UUID:
    """Read an identifier; the nil UUID, which no row bears, where it cannot be one."""
    if isinstance(given, UUID):
        return given
    try:
        return UUID(given)
    except (ValueError, AttributeError, TypeError):
        return NIL


def words(search: str) -> list[str]:
    """Split what was typed into a few words that a database can look for."""
    return search.replace("\x00", " ")[:SEARCH_LENGTH].split()[:5]
