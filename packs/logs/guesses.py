"""Which column of a log is probably what, and why.

Here: names, units and first values to a role. Not here: reading the log (reading.py); a person
confirms every guess.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from packs.logs.decimals import COMMA, POINT, marks_of
from packs.logs.fields import is_value
from packs.logs.units import unit_of
from packs.logs.wanted import plain
from packs.words import told


class Role(StrEnum):
    """What a column may be."""

    TIME = "time"
    CURRENT = "current"
    CELL = "cell"
    TEMPERATURE = "temperature"
    OTHER = ""


ROLES = {
    Role.TIME: "time",
    Role.CURRENT: "current",
    Role.CELL: "cell",
    Role.TEMPERATURE: "temperature",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnGuess:
    """What one column probably is.

    Parameters
    ----------
    index : int
        Place in the file, from zero.
    name : str
        In the header.
    role : Role
        Empty where it is none of the wanted.
    reason : str
        Why, in words.
    numbers : tuple of int
        That stand in the name; they order the cells.
    """

    index: int
    name: str
    role: Role
    reason: str
    numbers: tuple[int, ...] = ()


TIME_ALONE = re.compile(r"t|time|zeit|elapsed|clock")
NAMES = (
    (Role.TEMPERATURE, re.compile(r"\btemp(eratur)?e?\s*\d*\b")),
    (Role.CURRENT, re.compile(r"\b(current|curr|strom|amps?|amperes?|i|ibat|ipack)\b")),
    (
        Role.CELL,
        re.compile(r"\b(cell|zelle|cellv|cv|ucell|vcell|c|u|v|voltage|volt|z)\s*\d|\bcell\b"),
    ),
    (
        Role.TEMPERATURE,
        re.compile(r"\b(temp|temperature|temperatur|t|ntc|th|sensor|probe)\s*\d*\b"),
    ),
    (Role.TIME, re.compile(r"\b(time|zeit|timestamp|datetime|date|datum|elapsed|uhrzeit)\b")),
)
ROLES_OF_UNITS = (
    dict.fromkeys(("A", "mA", "kA"), Role.CURRENT)
    | dict.fromkeys(("V", "mV", "uV"), Role.CELL)
    | dict.fromkeys(("C", "K", "F"), Role.TEMPERATURE)
    | dict.fromkeys(("s", "ms", "us", "ns", "min", "h", "d"), Role.TIME)
)
SUMMARY = r"min|max|mean|avg|average|median|sum|delta|spread|diff|limit|set|target|request"
WHOLE = r"total|pack|string|soc|soh|power|energy|ah|wh|kwh|status|balance|balancing|fan|count"
AROUND = r"amb|ambient|outside|coolant|inlet|outlet"
OTHER_WORDS = {
    Role.TIME: re.compile(r"\b(remaining|left|since)\b"),
    Role.CURRENT: re.compile(rf"\b({SUMMARY})\b"),
    Role.CELL: re.compile(rf"\b({SUMMARY}|{WHOLE})\b"),
    Role.TEMPERATURE: re.compile(rf"\b({SUMMARY}|{AROUND})\b"),
}
OWN_NUMBER = re.compile(r"\bcell\s*\d")
CELL_V = (0.3, 6.0)
CELL_MV = (300.0, 6000.0)
MOST = 0.5


def guessed(
    names: Sequence[str], units: Sequence[str], rows: Sequence[Sequence[str]]
) -> tuple[ColumnGuess, ...]:
    """Guess what each column is.

    Parameters
    ----------
    names : Sequence[str]
        Of the header.
    units : Sequence[str]
        Under it, or empty.
    rows : Sequence[Sequence[str]]
        Some rows of values.

    Returns
    -------
    guesses : tuple of ColumnGuess
        One for each column; at most one time and one current.
    """
    guesses = []
    for index, name in enumerate(names):
        values = [row[index] for row in rows]
        unit = unit_of(name, units[index] if units else "")
        role, reason = _role(_words(name), unit, values)
        numbers = tuple(int(digits) for digits in re.findall(r"\d{1,9}", name))
        guess = ColumnGuess(
            index=index, name=name.strip(), role=role, reason=reason, numbers=numbers
        )
        guesses.append(guess)
    return tuple(_one_each(guesses))


def _words(name: str) -> str:
    """Return a name with spaces between its words and without units in brackets."""
    bare = re.sub(r"[\[(].*?[\])]", " ", name)
    bare = re.sub(r"([a-z])([A-Z])", r"\1 \2", bare)
    return " ".join(re.sub(r"[_./:\-]", " ", plain(bare)).split())


def _role(words: str, unit: str, values: Sequence[str]) -> tuple[Role, str]:
    """Decide by unit, name and first values."""
    numbers = _numbers(values)
    shown = (
        told(", values {low:g} to {high:g}", low=min(numbers), high=max(numbers)) if numbers else ""
    )
    if not numbers and values and sum(map(is_value, values)) > MOST * len(values):
        return Role.TIME, "holds dates or times of day"
    role = ROLES_OF_UNITS.get(unit) or _by_name(words)
    if role is Role.OTHER:
        return role, told("neither name nor unit says what it is{shown}", shown=shown)
    if OTHER_WORDS[role].search(words) and not OWN_NUMBER.search(words):
        return Role.OTHER, "the name speaks of the whole pack or of something else"
    if role is Role.CELL and not _like_cells(numbers):
        return Role.OTHER, told("the values are not those of a cell{shown}", shown=shown)
    if role is Role.CELL:
        return role, told("voltages of a cell's size{shown}", shown=shown)
    what = "the unit" if unit else "the name"
    return role, told("{what} is that of a {role}{shown}", what=what, role=ROLES[role], shown=shown)


def _by_name(words: str) -> Role:
    """Decide by the words of a name alone."""
    if TIME_ALONE.fullmatch(words):
        return Role.TIME
    return next((role for role, pattern in NAMES if pattern.search(words)), Role.OTHER)


def _numbers(values: Sequence[str]) -> list[float]:
    """Return the values that are numbers."""
    marks = marks_of(values)
    numbers = []
    for value in values:
        text = value.replace(marks.thousands, "") if marks.thousands else value
        try:
            numbers.append(float(text.replace(COMMA, POINT)))
        except ValueError:
            continue
    return [number for number in numbers if abs(number) < float("inf")]


def _like_cells(numbers: Sequence[float]) -> bool:
    """Tell whether most values have the size of a cell's voltage."""
    fits = [n for n in numbers if CELL_V[0] < n < CELL_V[1] or CELL_MV[0] < n < CELL_MV[1]]
    return len(fits) > MOST * len(numbers)


def _one_each(guesses: Sequence[ColumnGuess]) -> list[ColumnGuess]:
    """Keep the first time and the first current."""
    seen: set[Role] = set()
    kept = []
    for guess in guesses:
        if guess.role in seen and guess.role in {Role.TIME, Role.CURRENT}:
            reason = told("another column stands before it as the {role}", role=ROLES[guess.role])
            kept.append(replace(guess, role=Role.OTHER, reason=reason))
        else:
            kept.append(guess)
        seen.add(guess.role)
    return kept
