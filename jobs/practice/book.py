"""The answer book: what is answered to an item, and by whom.

Here: what answers by default (a tick is ticked, equipment is taken from the shelf, words come from
the recipe), and the signature of an answer. The readings of each step are in `answers`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

from jobs.core.entry import Json
from jobs.core.item import Item, Shape
from jobs.practice.pen import signature_of
from jobs.practice.scene import DESK, SECOND, TECHNICIAN, Scene, Stuck

__all__ = ["Answer", "At", "Book", "Pass", "answer_of", "said", "shelf", "who"]


class Pass(Enum):
    """Nothing is entered: not now, or not at all."""

    LATER = "later"
    LEAVE = "leave"


@dataclass(frozen=True, slots=True)
class At:
    """A value for a collection whose qualifier the answer chooses."""

    qualifier: str
    raw: Json


Answer = Callable[[Scene, Item[Any], Mapping[str, str]], Json]
"""Gives the raw value, an `At`, or a `Pass`; the mapping holds the parts of the qualifier."""
Book = Mapping[str, Answer]
"""Answers by the key of their item."""


def said(scene: Scene, item: Item[Any]) -> Json:
    """Give the recipe's words for an item, as typed; None where it has none."""
    words = scene.recipe.words.get(item.key)
    return f"{words:.10g}" if isinstance(words, int | float) else words


def shelf(scene: Scene, kind: str, label: str = "") -> str:
    """Take equipment from the shelf: the labelled piece, or the first that may be used.

    Raises
    ------
    Stuck
        Where there is none.
    """
    if label:
        return scene.shop.equipment[label]
    for piece in scene.shelf(kind):
        if piece.reason is None:
            return piece.id
    raise Stuck(f"No {kind} in the shop may be used")


def _default(scene: Scene, item: Item[Any]) -> Json:
    """Answer by the item's shape."""
    words = said(scene, item)
    if item.shape is Shape.EQUIPMENT and (item.needed or words):
        return shelf(scene, item.kinds[0], str(words or ""))
    if item.shape is Shape.DRAWN and words is not None:
        return signature_of(str(words))
    if words is not None:
        return words
    if not item.needed:
        return Pass.LEAVE
    if item.shape in {Shape.TICK, Shape.SIGNATURE}:
        return True
    raise Stuck(f"The book has no answer for {item.key}")


def answer_of(book: Book, scene: Scene, item: Item[Any], parts: Mapping[str, str]) -> Json:
    """Give what is answered to one item, or why nothing is."""
    own = book.get(item.key)
    return _default(scene, item) if own is None else own(scene, item, parts)


def who(item: Item[Any]) -> tuple[str, str]:
    """Give who answers an item, and at whose tablet where that is not their own."""
    if item.shape is Shape.SIGNATURE:
        return SECOND, TECHNICIAN
    return (DESK if DESK_ROLE in item.by else TECHNICIAN), ""


DESK_ROLE = "front_desk"
