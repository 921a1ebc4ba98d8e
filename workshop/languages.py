"""The languages that screens and papers are written in, and which one counts where.

A screen speaks the language of whoever is signed on, else the shop's; a customer's papers speak the
customer's, else the shop's. What a browser asks for is no part of it: a tablet is used by many.
"""

from typing import Final

from django.conf import settings

FIRST: Final = "en"


def known(*wanted: str) -> str:
    """Give the first of these that there is a catalogue for; English where there is none.

    Examples
    --------
    >>> known("", "xx", "en")
    'en'
    """
    there = {code for code, _ in settings.LANGUAGES}
    return next((each for each in wanted if each in there), FIRST)


def choices() -> tuple[tuple[str, str], ...]:
    """Give code and own name of each language."""
    return tuple((code, str(name)) for code, name in settings.LANGUAGES)
