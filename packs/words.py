"""Words that pure code makes for people: labels of pictures, lines of a sheet, results in words.

`word` gives them in the language of whoever reads. Pure code knows no Django, so the project says
once, at its start, who translates (`spoken_by`); without that the English text stands.
What a calculation says is `told`: English text as ever, which knows its parts, so that whoever
shows it can write it in another language (`translated`).
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

__all__ = [
    "Kept",
    "Told",
    "counted",
    "in_a_row",
    "joined",
    "pressure",
    "spoken_by",
    "told",
    "translated",
    "word",
]

AND = "{first} and {second}"
Translate = Callable[[str], str]
Figures = Callable[[Mapping[str, Any]], dict[str, Any]]
NAMES = frozenset(
    {"chemistry", "found", "hand_rule_module", "inside", "last", "module", "name", "names", "part"}
    | {"serial", "serials", "weakest_module"}
)
"""Fields for what somebody called a thing: the same in every language, whatever it means."""


def _as_recorded(number: float, unit: str) -> tuple[float, str]:
    return number, unit


class _Speaker:
    translate: Callable[[str], str] = staticmethod(str)
    converted: Callable[[float, str], tuple[float, str]] = staticmethod(_as_recorded)


def spoken_by(
    translate: Callable[[str], str],
    converted: Callable[[float, str], tuple[float, str]] = _as_recorded,
) -> None:
    """Say who translates and converts from now on.

    Parameters
    ----------
    translate : Callable[[str], str]
        Gives a text in the language of whoever reads at that moment.
    converted : Callable[[float, str], tuple[float, str]]
        Gives a number and its unit as they are read at that moment.
    """
    _Speaker.translate = staticmethod(translate)
    _Speaker.converted = staticmethod(converted)


def pressure(pa: float) -> str:
    """Write a pressure in the reader's unit.

    Parameters
    ----------
    pa : float
        The pressure, [Pa]

    Returns
    -------
    text : str
        Whole pascals; three digits in any other unit.

    Examples
    --------
    >>> pressure(1234.4)
    '1234 Pa'
    """
    number, unit = _Speaker.converted(pa, "Pa")
    return f"{number:.0f} {unit}" if unit == "Pa" else f"{number:.3g} {unit}"


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


class Told(str):
    """Words with figures put in, which keep the words alone, so that they can be translated."""

    __slots__ = ("fields", "text")

    text: str
    fields: Mapping[str, Any]

    def spoken(self, translate: Translate, figures: Figures) -> str:
        """Return the words in another language; names stay as somebody gave them."""
        fields = {
            name: translated(value, translate, figures)
            if isinstance(value, Told) or (isinstance(value, str) and name not in NAMES)
            else value
            for name, value in figures(self.fields).items()
        }
        return translate(self.text).format(**fields)


def told(text: str, /, **fields: Any) -> str:
    """Return words with their named fields put in.

    Parameters
    ----------
    text : str
        English words with named fields.
    **fields : Any
        What is put in; words among them are translated with it.

    Returns
    -------
    words : str
        The whole sentence, a `Told`, which knows its parts.

    Examples
    --------
    >>> told("Spare {serial}: place {place}", serial="V-12", place=2)
    'Spare V-12: place 2'
    """
    words = Told(text.format(**fields))
    words.text, words.fields = text, fields
    return words


def counted(number: int, one: str, many: str) -> str:
    """Return a count with what goes with it.

    Parameters
    ----------
    number : int
        How many.
    one, many : str
        English words for one and for several, with the field ``number``.

    Returns
    -------
    words : str
        The words that go with the number.

    Examples
    --------
    >>> counted(1, "{number} row", "{number} rows"), counted(3, "{number} row", "{number} rows")
    ('1 row', '3 rows')
    """
    return told(one if number == 1 else many, number=number)


def joined(parts: Sequence[str], between: str = AND) -> str:
    """Return words joined to one, each of which is still translated by itself.

    Parameters
    ----------
    parts : Sequence[str]
        At least one.
    between : str
        How two are joined, with the fields ``first`` and ``second``.

    Returns
    -------
    words : str
        The only part as it is; `told` of the first and the others else.

    Examples
    --------
    >>> joined(["capacity", "resistance"]), joined(["2 s", "1 s"], "{first}, {second}")
    ('capacity and resistance', '2 s, 1 s')
    """
    words = parts[0]
    for part in parts[1:]:
        words = told(between, first=words, second=part)
    return words


def in_a_row(sentences: Iterable[str]) -> str:
    """Return sentences one after another, each of which is still translated by itself.

    Parameters
    ----------
    sentences : Iterable[str]
        Any number, none too.

    Returns
    -------
    words : str
        Empty where there is none.

    Examples
    --------
    >>> in_a_row(["Read again.", "Wait."]), in_a_row([])
    ('Read again. Wait.', '')
    """
    found = list(sentences)
    return joined(found, "{first} {second}") if found else ""


class Kept(str):
    """A sentence as an entry keeps it: English, as a calculation told it when it was entered."""

    __slots__ = ()


def translated(
    words: str,
    translate: Translate,
    figures: Figures = dict,
) -> str:
    """Return words in another language, fields that are words themselves as well.

    Parameters
    ----------
    words : str
        What `told` gave, or plain words.
    translate : Translate
        Gives a sentence in the other language.
    figures : Figures
        Brings the fields to the units that are read.

    Returns
    -------
    words : str
        As they are written there; figures and names as they are.

    Examples
    --------
    >>> german = {"Leak in {module}": "Leck in {module}"}
    >>> translated(told("Leak in {module}", module="M3"), lambda text: german.get(text, text))
    'Leck in M3'
    """
    if not words:
        return words
    return words.spoken(translate, figures) if isinstance(words, Told) else translate(words)
