"""A customer's signature, drawn on the screen or given on paper, as words that can be erased.

Here: its check, the text that is kept, and its picture. It is kept like every word about a
person: outside the chain, under a reference and a salted hash.
"""

import json
import math
from dataclasses import dataclass
from itertools import pairwise

from jobs.core.entry import Json
from jobs.core.reason import InputRefused, Reason
from packs.picture import Picture, Stroke

__all__ = ["HEIGHT", "REASONS", "WIDTH", "Drawn", "drawn_of", "drawn_text", "read_drawn"]

WIDTH, HEIGHT = 1000, 300
"""The field on which it is drawn [1], whatever the screen."""

NAME_LIMIT = 120
NOTE_LIMIT = 300
STROKES_LIMIT = 200
POINTS_LIMIT = 5000

SHORTEST = 60.0
"""Length under which a mark is a touch by mistake, not a signature [1]."""

NO_NAME = Reason("drawn_name", "Write the name of whoever signs.")
NO_MARK = Reason(
    "drawn_mark",
    "Let them sign in the field, or write how they signed: on paper and filed, by a message of ….",
)
NOT_DRAWN = Reason("drawn_broken", "The signature did not arrive whole. Clear the field and sign.")

REASONS = (NO_NAME, NO_MARK, NOT_DRAWN)

Strokes = tuple[tuple[tuple[int, int], ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A signature.

    Attributes
    ----------
    name : str
        Who signed.
    note : str
        How, where it was not on the screen.
    strokes : tuple
        Points (x, y) of each stroke, within `WIDTH` and `HEIGHT`; y grows downwards.
    """

    name: str
    note: str
    strokes: Strokes

    @property
    def words(self) -> str:
        """The signature in words."""
        return f"{self.name} ({self.note})" if self.note else self.name

    def picture(self) -> Picture | None:
        """Give what was drawn [mm]; None where nothing was."""
        if not self.strokes:
            return None
        scale = 60.0 / WIDTH
        return Picture(
            width_mm=WIDTH * scale,
            height_mm=HEIGHT * scale,
            title=self.name,
            description=self.words,
            shapes=tuple(
                Stroke(points=tuple((x * scale, y * scale) for x, y in stroke))
                for stroke in self.strokes
            ),
        )


def _line(text: object, limit: int) -> str:
    line = " ".join(text.split()) if isinstance(text, str) else ""
    return line if line.isprintable() and len(line) <= limit else ""


def _stroke(raw: object) -> tuple[tuple[int, int], ...]:
    """Read one stroke; ValueError where it is none."""
    if not isinstance(raw, list) or not raw:
        raise ValueError
    points = []
    for point in raw:
        if not isinstance(point, list) or [type(each) for each in point] != [int, int]:
            raise ValueError
        x, y = point
        if not (0 <= x <= WIDTH and 0 <= y <= HEIGHT):
            raise ValueError
        points.append((x, y))
    return tuple(points)


def _strokes(raw: object) -> Strokes:
    if raw is None:
        return ()
    if not isinstance(raw, list) or len(raw) > STROKES_LIMIT:
        raise ValueError
    strokes = tuple(_stroke(each) for each in raw)
    if sum(map(len, strokes)) > POINTS_LIMIT:
        raise ValueError
    return strokes


def _length(strokes: Strokes) -> float:
    return sum(math.dist(a, b) for stroke in strokes for a, b in pairwise(stroke))


def read_drawn(raw: Json, item: str = "") -> Drawn:
    """Read a signature as it was sent.

    Parameters
    ----------
    raw : Json
        ``{"name": ..., "note": ..., "strokes": [[[x, y], ...], ...]}``; a note or strokes.
    item : str
        Key of the item it answers.

    Returns
    -------
    Drawn
        The signature.

    Raises
    ------
    InputRefused
        When the name is missing, when it is neither drawn nor explained, or when it is broken.

    Examples
    --------
    >>> read_drawn({"name": "E. Sand", "note": "on paper, filed"}).words
    'E. Sand (on paper, filed)'
    """
    given = raw if isinstance(raw, dict) else {}
    name, note = _line(given.get("name"), NAME_LIMIT), _line(given.get("note"), NOTE_LIMIT)
    if not name:
        raise InputRefused(NO_NAME(item))
    try:
        strokes = _strokes(given.get("strokes"))
    except ValueError:
        raise InputRefused(NOT_DRAWN(item)) from None
    if not note and _length(strokes) < SHORTEST:
        raise InputRefused(NO_MARK(item))
    return Drawn(name=name, note=note, strokes=strokes)


def drawn_text(drawn: Drawn) -> str:
    """Give the text in which a signature is kept."""
    content = {"name": drawn.name, "note": drawn.note, "strokes": drawn.strokes}
    return json.dumps(content, ensure_ascii=False, separators=(",", ":"))


def drawn_of(text: str) -> Drawn | None:
    """Read kept text; None where it is plain words, no signature.

    Examples
    --------
    >>> drawn_of("E. Sand, by telephone") is None
    True
    """
    if not text.startswith('{"name":'):
        return None
    try:
        return read_drawn(json.loads(text))
    except (ValueError, InputRefused):
        return None
