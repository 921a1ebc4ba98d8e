"""One page of a long list."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.db.models import QuerySet

PAGE_LENGTH = 50

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Slice(Generic[T]):
    """One page of what was found.

    Attributes
    ----------
    rows : tuple
        What the page shows.
    page, pages : int
        Which page it is, counted from 1, and how many there are.
    total : int
        How many rows were found.
    """

    rows: tuple[T, ...]
    page: int
    pages: int
    total: int


def page_number(text: str) -> int:
    """Read a page's number; the first page where it cannot be one.

    Examples
    --------
    >>> page_number("3"), page_number("last"), page_number("-1")
    (3, 1, 1)
    """
    is_number = text.isascii() and text.isdigit() and len(text) < 7  # noqa: PLR2004 - a list ends
    return max(1, int(text)) if is_number else 1


def sliced(rows: QuerySet[Any], page: int, make: Callable[[Any], T]) -> Slice[T]:
    """Fetch one page of rows; a page past the end gives the last."""
    total = rows.count()
    pages = max(1, -(-total // PAGE_LENGTH))
    page = min(page, pages)
    start = (page - 1) * PAGE_LENGTH
    shown = tuple(make(row) for row in rows[start : start + PAGE_LENGTH])
    return Slice(rows=shown, page=page, pages=pages, total=total)
