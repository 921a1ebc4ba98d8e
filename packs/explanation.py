"""How a calculation is shown step by step: what, formula, the numbers put in, the result.

Here: the record of one step, how figures are written in it, and the text that is printed. Not
here: the steps of any calculation; those are in packs/explanations.
"""

import math
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from typing_extensions import override

from packs.words import Figures, Told, Translate, translated

WIDTH = 100
"""Longest line of the text, so that it prints on a sheet of A4 without breaking."""
INDENT = "    "
LONGEST_NAME = 12
"""Left sides up to this length have their signs of equality stand below each other."""
SMALLEST_PLAIN, LARGEST_PLAIN = 1e-3, 1e6
"""Outside these a figure without a customary prefix is written with a power of ten."""

PREFIXES: dict[str, tuple[tuple[float, str], ...]] = {
    "ohm": ((1e9, "Gohm"), (1e6, "Mohm"), (1e3, "kohm"), (1.0, "ohm"), (1e-3, "mohm")),
    "S": ((1.0, "S"), (1e-3, "mS"), (1e-6, "uS"), (1e-9, "nS")),
    "V": ((1.0, "V"), (1e-3, "mV"), (1e-6, "uV")),
    "A": ((1.0, "A"), (1e-3, "mA"), (1e-6, "uA"), (1e-9, "nA")),
    "F": ((1.0, "F"), (1e-3, "mF"), (1e-6, "uF"), (1e-9, "nF")),
    "W": ((1e3, "kW"), (1.0, "W"), (1e-3, "mW")),
}
"""Units that a person reads with a prefix, largest first; all others stay as they are."""


VERDICTS = (
    "charge", "dead", "differs", "discharge", "fail", "floating", "live", "matches", "move",
    "named", "narrowed", "no_leak", "pass", "ready", "standing", "undecided", "void",
)  # fmt: skip
"""How results may end, as they stand behind the words for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One step: a heading when it has only ``what``.

    Parameters
    ----------
    what : str
        What is found, in words.
    formula : str
        In symbols.
    numbers : str
        The same with the numbers put in, units included.
    value : str
        The result with its unit.
    """

    what: str
    formula: str = ""
    numbers: str = ""
    value: str = ""


def figure(value: float | None, unit: str, digits: int = 4) -> str:
    """Return a figure as a person would write it.

    Parameters
    ----------
    value : float | None
        The figure in the plain unit, None when there is none.
    unit : str
        The plain unit, such as ``ohm``, ``V``, ``Pa``; empty for a number without one.
    digits : int
        How many count.

    Returns
    -------
    text : str
        With a prefix where one is customary, a power of ten where the number would be long.

    Examples
    --------
    >>> figure(84918.3, "ohm"), figure(None, "V"), figure(0.0, "V")
    ('84.92 kohm', '-', '0 V')
    >>> figure(1.5e-5, ""), figure(261.68, "V", 5), figure(-0.0042, "V"), figure(12, "s")
    ('1.5e-5', '261.68 V', '-4.2 mV', '12 s')
    """
    if value is None or not math.isfinite(value):
        return "-"
    rounded = float(f"{value:.{digits}g}")
    if rounded == 0.0:
        return f"0 {unit}".rstrip()
    size = abs(rounded)
    steps = PREFIXES.get(unit, ((1.0, unit),))
    factor, shown_unit = next((step for step in steps if size >= step[0]), steps[-1])
    return f"{_number(rounded / factor, digits)} {shown_unit}".rstrip()


def text_of(lines: Iterable[Line]) -> str:
    """Return steps as text, at most 100 columns wide.

    Parameters
    ----------
    lines : Iterable[Line]
        In the order in which they are to be read.

    Returns
    -------
    text : str
        Numbered steps; headings stand alone, with an empty line before them.

    Examples
    --------
    >>> print(
    ...     text_of(
    ...         [
    ...             Line(what="Ohm's law"),
    ...             Line(
    ...                 what="Resistance",
    ...                 formula="R = U/I",
    ...                 numbers="3 mV / 200 A",
    ...                 value="15 uohm",
    ...             ),
    ...         ]
    ...     )
    ... )
    Ohm's law
    <BLANKLINE>
     1  Resistance
           R = U/I
             = 3 mV / 200 A
             = 15 uohm
    """
    parts: list[str] = []
    number = 0
    for line in lines:
        if not (line.formula or line.numbers or line.value):
            parts += ["", *textwrap.wrap(line.what, WIDTH), ""]
            continue
        number += 1
        parts += _step(number, line)
    return "\n".join(parts).strip("\n").replace("\n\n\n", "\n\n")


class Table(Told):
    """A table as text, which knows its cells, so that it can be set anew in another language."""

    __slots__ = ("headings", "rows")

    headings: Sequence[str]
    rows: Sequence[Sequence[str]]

    @override
    def spoken(self, translate: Translate, figures: Figures) -> str:
        """Return the table with its headings and the words among its cells in another language."""
        headings = [translated(each, translate, figures) for each in self.headings]
        rows = [
            [
                translated(cell, translate, figures) if isinstance(cell, Told) else cell
                for cell in row
            ]
            for row in self.rows
        ]
        return _set([headings, *rows])


def table_text(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table as text, each column as wide as its widest cell.

    Parameters
    ----------
    headings : Sequence[str]
        In words.
    rows : Sequence[Sequence[str]]
        Each as long as the headings. Of their cells those are words that `packs.words.told` gave,
        all others figures and names.

    Returns
    -------
    text : str
        For the ``numbers`` of a step; a `Table`.

    Examples
    --------
    >>> print(table_text(("t", "v"), [("0 s", "90 V"), ("100 s", "62 V")]))
    t      v
    0 s    90 V
    100 s  62 V
    """
    table = Table(_set([headings, *rows]))
    table.text, table.fields, table.headings, table.rows = str(table), {}, headings, rows
    return table


def _set(rows: Sequence[Sequence[str]]) -> str:
    """Set rows below each other."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    )


def _step(number: int, line: Line) -> list[str]:
    """Write one step; the signs of equality stand below each other."""
    head = textwrap.wrap(
        line.what, WIDTH, initial_indent=f"{number:>2}  ", subsequent_indent=INDENT
    )
    name, equals, _ = line.formula.partition(" = ")
    short = bool(equals) and len(name) <= LONGEST_NAME
    margin = " " * (len(name) + 1) if short else ""
    later = margin + "  " if line.formula else ""
    body = [
        *_wrapped(line.formula, "", margin + "  "),
        *_wrapped(line.numbers, f"{margin}= " if line.formula else "", later),
        *_wrapped(line.value, f"{margin}= " if line.formula or line.numbers else "", later),
    ]
    return [*head, *body]


def _wrapped(text: str, before: str, later: str) -> list[str]:
    """Break text at its own line ends and at the width."""
    indent = INDENT + "   "
    found: list[str] = []
    for part in text.splitlines():
        found += textwrap.wrap(
            part,
            WIDTH,
            initial_indent=indent + (later if found else before),
            subsequent_indent=indent + later,
            break_long_words=True,
            break_on_hyphens=False,
        )
    return found


def _number(value: float, digits: int) -> str:
    """Write a number with so many digits, without trailing zeros and without a padded exponent."""
    if not SMALLEST_PLAIN <= abs(value) < LARGEST_PLAIN:
        mantissa, _, exponent = f"{value:.{digits - 1}e}".partition("e")
        mantissa = mantissa.rstrip("0").rstrip(".") if "." in mantissa else mantissa
        return f"{mantissa}e{int(exponent)}"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
