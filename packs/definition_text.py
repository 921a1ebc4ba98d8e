"""Pack definitions as text: reading TOML, writing TOML, and saying in plain words what is wrong.

Nothing here knows the fields of a pack: see packs/definition_parts.py for the pieces and
packs/definition_pack.py for the whole. No Django, no files, no clock.
"""

import difflib
import re
import tomllib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from pydantic import ValidationError
from pydantic_core import ErrorDetails
from typing_extensions import override

SIZE_CAP_BYTES = 256 * 1024
"""Longest text that is read [byte]; a real definition has a few thousand. Shop default."""

PROBLEMS_SHOWN = 50
"""Problems listed at most, so that a wrong file does not fill the page [1]."""

_SHOWN_CHARACTERS = 40
_ORDINALS = {1: "1st", 2: "2nd", 3: "3rd"}
_TEENS = (11, 12, 13)
_LINE = re.compile(r"\(at (?P<line>line \d+), column (?P<column>\d+)\)$")
_MUST_ESCAPE = re.compile(r'["\\\x00-\x1f\x7f]')


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a definition: where it is, what is wrong, how to mend it."""

    path: str
    wrong: str
    mend: str

    @override
    def __str__(self) -> str:
        """Return the three parts as one line."""
        where = f"{self.path}: " if self.path else ""
        return f"{where}{self.wrong}. {self.mend}"


class DefinitionRefused(Exception):
    """The text is no pack definition; ``problems`` says why, in the author's words."""

    def __init__(self, problems: Collection[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def parse_toml(text: str | bytes) -> dict[str, object]:
    r"""Read TOML into plain values, refusing what cannot be read with its line.

    Parameters
    ----------
    text : str or bytes
        The file's content; bytes are taken as UTF-8.

    Returns
    -------
    dict
        The top-level table.

    Raises
    ------
    DefinitionRefused
        If the text is too long, not UTF-8 or not TOML.

    Examples
    --------
    >>> parse_toml('name = "Van"')
    {'name': 'Van'}
    >>> parse_toml('name = "Van"\ncells = = 3')
    Traceback (most recent call last):
    ...
    packs.definition_text.DefinitionRefused: line 2, column 9: Invalid value. ...
    """
    try:
        raw = text.encode() if isinstance(text, str) else text
        if len(raw) > SIZE_CAP_BYTES:
            raise DefinitionRefused([_too_long(len(raw))])
        return tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeError:
        wrong, mend = "The text is not UTF-8", "Save the file as UTF-8 and send it again."
    except RecursionError:
        wrong, mend = (
            "The brackets are nested too deeply",
            "Close the brackets that were left open.",
        )
    except ValueError as error:  # tomllib's own error, and numbers too long to read
        raise DefinitionRefused([_syntax_problem(str(error))]) from error
    raise DefinitionRefused([Problem("", wrong, mend)])


def emit_toml(table: Mapping[str, object]) -> str:
    """Write plain values as TOML that reads back to the same values.

    Parameters
    ----------
    table : Mapping
        Text, numbers, booleans, lists, and tables of these.

    Returns
    -------
    str
        The text; tables that hold only single values stand on one line.

    Examples
    --------
    >>> print(emit_toml({"name": "Van", "mass_kg": {"value": 310.0}}), end="")
    name = "Van"
    mass_kg = { value = 310.0 }
    """
    return "\n".join(_table_lines(table, ())).lstrip("\n") + "\n"


def problems_in(error: ValidationError, known: Collection[str]) -> list[Problem]:
    """Translate what the validation found into problems a person can mend.

    Parameters
    ----------
    error : ValidationError
        What pydantic raised.
    known : collection of str
        Every field name a definition may hold, for "did you mean".

    Returns
    -------
    list of Problem
        At most ``PROBLEMS_SHOWN``, then one that counts the rest.
    """
    found = located_problems(error, known)
    problems = [problem for _, problem in found[:PROBLEMS_SHOWN]]
    if len(found) > PROBLEMS_SHOWN:
        wrong = f"There are {len(found) - PROBLEMS_SHOWN} more problems"
        problems.append(Problem("", wrong, "Mend these first and send the file again."))
    return problems


def located_problems(
    error: ValidationError, known: Collection[str]
) -> list[tuple[tuple[str | int, ...], Problem]]:
    """Translate what the validation found, each with its place as field names and positions.

    Parameters
    ----------
    error : ValidationError
        What pydantic raised.
    known : collection of str
        Every field name a definition may hold, for "did you mean".

    Returns
    -------
    list of tuple
        Place, counted from 0 in lists, and problem; all of them.
    """
    every = error.errors(include_url=False)
    found = [details for details in every if not _is_echo(details, every)]
    return [(details["loc"], _problem(details, known)) for details in found]


def path_in_words(location: tuple[str | int, ...]) -> str:
    """Name a place in the file as its author would.

    Parameters
    ----------
    location : tuple of str or int
        Field names and list positions counted from zero.

    Returns
    -------
    str
        The place in words.

    Examples
    --------
    >>> path_in_words(("modules", 2, "cells"))
    'modules, 3rd: cells'
    """
    words = ""
    for step in location:
        if isinstance(step, int):
            words += f", {ordinal(step + 1)}"
        else:
            words += f": {step}" if words else step
    return words


def ordinal(count: int) -> str:
    """Return 1st, 2nd, 3rd, 4th, 11th, 21st."""
    ending = 0 if count % 100 in _TEENS else count % 10
    return _ORDINALS.get(count, f"{count}{_ORDINALS.get(ending, '0th')[1:]}")


def _too_long(length: int) -> Problem:
    """Return the problem of a file over the size cap."""
    wrong = f"The text has {length // 1024} kB; {SIZE_CAP_BYTES // 1024} kB is the most"
    return Problem("", wrong, "Send the definition alone, without other content.")


def _syntax_problem(message: str) -> Problem:
    """Turn a parser's message into a problem that starts with its line."""
    place = _LINE.search(message)
    path = f"{place['line']}, column {place['column']}" if place else ""
    wrong = message[: place.start()].strip() if place else "A number has too many digits"
    mend = "Look there for a missing or doubled quote, bracket or equals sign."
    return Problem(path, wrong, mend)


def _is_echo(details: ErrorDetails, every: Collection[ErrorDetails]) -> bool:
    """Tell whether a list counts as too short only because its items were refused."""
    place = details["loc"]
    return details["type"] == "too_short" and any(
        len(other["loc"]) > len(place) and other["loc"][: len(place)] == place for other in every
    )


def _problem(details: ErrorDetails, known: Collection[str]) -> Problem:
    """Translate one finding."""
    context = details.get("ctx", {})
    typed = shown(details["input"])
    kind = details["type"]
    if kind == "rule":
        wrong, mend = context["wrong"], context["mend"]
    elif kind == "extra_forbidden":
        wrong = "is not a field of a pack definition"
        mend = _spelling(str(details["loc"][-1]), known)
    else:
        wrong, mend = _SENTENCES.get(kind, (details["msg"], "Correct this value."))
    return Problem(
        path_in_words(details["loc"]),
        wrong.format_map({**context, "shown": typed}) if kind in _SENTENCES else wrong,
        mend.format_map({**context, "shown": typed}) if kind in _SENTENCES else mend,
    )


def shown(value: object) -> str:
    """Return a value as typed, cut to a readable length.

    Parameters
    ----------
    value : object
        Anything TOML can hold.

    Returns
    -------
    str
        One line.

    Examples
    --------
    >>> shown(True), shown([1, 2]), shown(10**60)
    ('true', 'a list', '1000000000000000000000000000000000000000…')
    """
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    try:
        text = str(value).lower() if isinstance(value, bool) else repr(value)
    except ValueError:  # a whole number too long to write out
        return "a number of thousands of digits"
    return text if len(text) <= _SHOWN_CHARACTERS else f"{text[:_SHOWN_CHARACTERS]}…"


def _spelling(name: str, known: Collection[str]) -> str:
    """Suggest the nearest known field name."""
    near = difflib.get_close_matches(name, sorted(known), n=1, cutoff=0.75)
    return f'Did you mean "{near[0]}"?' if near else "Take it out."


_SENTENCES = {
    "missing": ("is missing", "Add it."),
    "float_type": ("{shown} is not a number", "Write a plain number, without quotes: 3.65."),
    "finite_number": ("{shown} is not a finite number", "Write a plain number: 3.65."),
    "int_type": ("{shown} is not a whole number", "Write a whole number, without quotes."),
    "int_from_float": ("{shown} is not a whole number", "Write a whole number, without a point."),
    "bool_type": ("{shown} is neither true nor false", "Write true or false, without quotes."),
    "string_type": ("{shown} is not text", "Put the text in quotes."),
    "string_unicode": ("the text cannot be stored", "Type it again."),
    "string_too_short": ("is empty", "Fill it in."),
    "string_too_long": ("is longer than {max_length} characters", "Shorten it."),
    "string_pattern_mismatch": (
        "{shown} holds a character that is not allowed here",
        "Keep it on one line; a slug is lower-case letters and digits joined by hyphens.",
    ),
    "literal_error": ("{shown} is not one of the allowed words", "Write one of {expected}."),
    "greater_than": ("{shown} is too small", "Write a number above {gt}."),
    "greater_than_equal": ("{shown} is too small", "Write a number of at least {ge}."),
    "less_than": ("{shown} is too large", "Write a number below {lt}."),
    "less_than_equal": ("{shown} is too large", "Write a number of at most {le}."),
    "too_short": ("holds too few items", "Write at least {min_length}."),
    "too_long": ("holds too many items", "Write at most {max_length}."),
    "tuple_type": ("{shown} is not a list", "Write it in square brackets: [ ... ]."),
    "model_type": (
        "{shown} is not a table",
        'Write it as a table: {{ value = 5.0, kind = "maker", source = "..." }}.',
    ),
}


def _is_inline(value: object) -> bool:
    """Tell whether a value can stand on its key's line."""
    if isinstance(value, Mapping):
        return not any(isinstance(inner, Mapping | list) for inner in value.values())
    return True


def _table_lines(table: Mapping[str, object], names: tuple[str, ...]) -> Iterator[str]:
    """Yield a table's lines: its own values first, then its tables."""
    for key, value in table.items():
        if _is_inline(value):
            yield f"{key} = {_inline(value)}"
    for key, value in table.items():
        if isinstance(value, Mapping) and not _is_inline(value):
            yield ""
            yield f"[{'.'.join((*names, key))}]"
            yield from _table_lines(value, (*names, key))


def _inline(value: object) -> str:
    """Write one value, or a table or list of values."""
    if isinstance(value, Mapping):
        pairs = ", ".join(f"{key} = {_inline(inner)}" for key, inner in value.items())
        return f"{{ {pairs} }}" if pairs else "{}"
    if isinstance(value, list):
        if any(isinstance(inner, Mapping) for inner in value):
            return "[\n" + "".join(f"  {_inline(inner)},\n" for inner in value) + "]"
        return f"[{', '.join(_inline(inner) for inner in value)}]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + _MUST_ESCAPE.sub(_escaped, value) + '"'
    return repr(value)


def _escaped(match: re.Match[str]) -> str:
    """Escape one character of a basic string."""
    character = match[0]
    return f"\\{character}" if character in '"\\' else f"\\u{ord(character):04x}"
