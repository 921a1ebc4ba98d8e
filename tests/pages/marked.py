"""A language that marks every text of ours: words that no catalogue is asked for stand out."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final

from django.utils import translation

__all__ = ["CLOSE", "OPEN", "marking", "unmarked"]

OPEN, CLOSE = "\u27e6", "\u27e7"
_FIELD: Final = re.compile(r"\{[^{}]*\}|%\([A-Za-z0-9_]+\)[sd]")
_MARKED: Final = re.compile(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}")
_WORD: Final = re.compile(r"[^\W\d_]{3,}")


def _mark(text: str) -> str:
    """Mark a text, its fields left outside: what they hold has to be marked on its own."""
    outside = _FIELD.sub(lambda found: f"{CLOSE}{found[0]}{OPEN}", text)
    return f"{OPEN}{outside}{CLOSE}".replace(f"{OPEN}{CLOSE}", "")


@contextmanager
def marking() -> Iterator[None]:
    """Let every text that is translated come back marked."""
    speaking = vars(translation)["_trans"]  # the one place that all of Django's functions ask

    def gettext(text: str) -> str:
        return _mark(str(text)) if str(text) else ""

    def ngettext(singular: str, plural: str, number: int) -> str:
        return _mark(singular if number == 1 else plural)

    kept = {name: getattr(speaking, name) for name in ("gettext", "ngettext", "pgettext")}
    speaking.gettext, speaking.ngettext = gettext, ngettext
    speaking.pgettext = lambda _context, text: _mark(text)
    try:
        yield
    finally:
        for name, function in kept.items():
            setattr(speaking, name, function)


def unmarked(text: str, known: Callable[[str], bool]) -> tuple[str, ...]:
    """Give the words of a text that are neither marked nor known: ours, and never translated."""
    words = _WORD.findall(_MARKED.sub(" ", text))
    return tuple(dict.fromkeys(word for word in words if not known(word)))
