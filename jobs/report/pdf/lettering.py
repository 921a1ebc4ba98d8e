"""The typeface of a PDF, and what becomes of letters that it does not have.

A letter without a drawing would leave a gap that nobody notices. It is written by its number in
Unicode instead, in brackets, and the document says so at its end.
"""

import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Final

import font_source_sans_pro
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

__all__ = ["BOLD", "PLAIN", "drawable", "register_fonts", "spelling_out"]

PLAIN: Final = "Coldbus"
BOLD: Final = "Coldbus-Bold"
FONT_FILES: Final = {PLAIN: "SourceSansPro-Regular.ttf", BOLD: "SourceSansPro-Bold.ttf"}
ALIKE: Final = {"\u2011": "-", "\u2126": "\u03a9", "\u202f": "\u00a0", "\t": " ", "\r": ""}
"""Signs that look the same as one which the typeface has."""

_MISSED: ContextVar[set[str] | None] = ContextVar("letters without a drawing", default=None)


@cache
def register_fonts() -> None:
    """Make the fonts known, once."""
    folder = Path(font_source_sans_pro.__file__).parent / "files"
    for name, file in FONT_FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)


@cache
def _drawn() -> frozenset[int]:
    """Give the letters that both weights have."""
    register_fonts()
    faces = [pdfmetrics.getFont(name).face.charToGlyph for name in FONT_FILES]
    return frozenset(faces[0]) & frozenset(faces[1])


def _is_drawn(letter: str) -> bool:
    return letter == "\n" or ord(letter) in _drawn()


@contextmanager
def spelling_out() -> Iterator[set[str]]:
    """Collect the letters that are spelled out while a document is made."""
    missed = set[str]()
    token = _MISSED.set(missed)
    try:
        yield missed
    finally:
        _MISSED.reset(token)


def drawable(text: str) -> str:
    """Write a text with letters that the typeface has.

    Parameters
    ----------
    text : str
        As people typed it.

    Returns
    -------
    str
        Composed accents; what has no drawing by its number; marks that only steer the writing
        direction or join letters are left out.

    Examples
    --------
    >>> drawable("Łódź, ½ Ω"), drawable("e\u0301"), drawable("\u7530 A\u200b")
    ('Łódź, ½ Ω', 'é', '[U+7530] A')
    """
    composed = unicodedata.normalize("NFC", "".join(ALIKE.get(each, each) for each in text))
    if all(map(_is_drawn, composed)):
        return composed
    parts, missed = list[str](), _MISSED.get()
    for known, run in groupby(composed, key=_is_drawn):
        letters = [each for each in run if known or unicodedata.category(each)[0] != "C"]
        if known or not letters:
            parts += letters
            continue
        if missed is not None:
            missed.update(letters)
        parts.append(f"[{' '.join(f'U+{ord(each):04X}' for each in letters)}]")
    return "".join(parts)
