"""Words that pure code makes for people: labels of pictures, lines of a definition's sheet.

`word` gives them in the language of whoever reads. Pure code knows no Django, so the project says
once, at its start, who translates (`spoken_by`); without that the English text stands.
"""

from collections.abc import Callable

__all__ = ["spoken_by", "word"]


class _Speaker:
    translate: Callable[[str], str] = staticmethod(str)


def spoken_by(translate: Callable[[str], str]) -> None:
    """Say who translates from now on.

    Parameters
    ----------
    translate : Callable[[str], str]
        Gives a text in the language of whoever reads at that moment.
    """
    _Speaker.translate = staticmethod(translate)


def word(text: str, **values: object) -> str:
    """Give a text in the reader's language, its named fields filled in.

    Parameters
    ----------
    text : str
        English text with named fields, the key of its translation.
    **values : object
        Values of the fields.

    Examples
    --------
    >>> word("{count} cells", count=96)
    '96 cells'
    """
    said = _Speaker.translate(text)
    return said.format(**values) if values else said
