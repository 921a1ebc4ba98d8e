"""What a VIN says about itself, in words that warn and never bar.

The calculation belongs to another app, which this one may not import: a name in a string is the
only thread to it and its words, as with addresses and settings.
"""

from collections.abc import Callable
from typing import Any, Final, cast

from django.utils.module_loading import import_string
from django.utils.translation import gettext

CALCULATION: Final = "packs.physics.vin.vin"
"""Dotted path of the function that checks a VIN."""
TRANSLATED: Final = "packs.words.translated"
"""Dotted path of the function that gives in another language what a calculation told."""

WARNED: Final = {"frame_number", "length", "check_digit"}


def vin_warnings(vin: str) -> tuple[str, ...]:
    """Give what should be compared with the vehicle once more; nothing for an empty VIN."""
    if not vin:
        return ()
    check = cast("Callable[[str], Any]", import_string(CALCULATION))
    messages = check(vin).warnings
    short = any(each.code == "frame_number" for each in messages)
    codes = WARNED - {"length"} if short else WARNED
    translated = cast("Callable[[str, Any], str]", import_string(TRANSLATED))
    return tuple(translated(each.text, gettext) for each in messages if each.code in codes)
