"""What is read and chosen in each step, one module a step; `BOOK` is all of it."""

from typing import Final

from jobs.practice.answers import (
    arrival,
    charging,
    isolation,
    localisation,
    proof,
    reassembly,
    road,
    seal,
    swap,
)
from jobs.practice.book import Book

__all__ = ["BOOK"]

BOOK: Final[Book] = {
    **arrival.BOOK,
    **proof.BOOK,
    **isolation.BOOK,
    **localisation.BOOK,
    **swap.BOOK,
    **charging.BOOK,
    **reassembly.BOOK,
    **seal.BOOK,
    **road.BOOK,
}
