"""How words that somebody typed are kept: one form of each letter, nothing that cannot be shown."""

import unicodedata

__all__ = ["cleaned"]

_NOT_SHOWN = {"Cc", "Cs", "Co", "Cn"}


def cleaned(typed: str) -> str:
    r"""Give typed words as they are kept.

    Examples
    --------
    >>> cleaned("  a\0b\nc ")
    'ab\nc'
    """
    return "".join(
        letter
        for letter in unicodedata.normalize("NFC", typed)
        if letter in "\n\t" or unicodedata.category(letter) not in _NOT_SHOWN
    ).strip()
