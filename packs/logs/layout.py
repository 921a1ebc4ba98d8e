"""The layout of a log: delimiter, header, row of units, and the lines that hold values.

Here: text to a header and lines of equal shape. Not here: fields (fields.py), numbers (table.py).
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from packs.logs.fields import COMMENT_SIGNS, DELIMITERS, JOINT, are_units, is_data, is_value, split
from packs.logs.text import refused
from packs.logs.wanted import plain
from packs.physics.instrument import Message
from packs.words import counted, told

DATE_AND_CLOCK = re.compile(r"(\d[./-]\d{1,4})\s+(\d{1,2}:\d\d)")
HEAD_LINES = 300
"""A header stands within so many lines from the top."""
CLEARLY_BETTER = 1.02
FEWEST_ROWS = 2
NEIGHBOURS = 20
ODD_SHARE = 0.05
"""With more odd lines than this the log may have lost what matters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """Where the header stands and how its lines are taken apart."""

    delimiter: str
    at: int
    names: tuple[str, ...]
    units: tuple[str, ...]
    data_from: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A header and the lines of values under it.

    Parameters
    ----------
    names : tuple of str
        As they stand in the header.
    units : tuple of str
        Of the row of units under it; empty where there is none.
    delimiter : str
        Between the fields of `lines`.
    lines : list of str
        All with as many fields as there are names.
    repairs, doubts : tuple of Message
        Lines that were left out.
    """

    names: tuple[str, ...]
    units: tuple[str, ...]
    delimiter: str
    lines: list[str]
    repairs: tuple[Message, ...]
    doubts: tuple[Message, ...]


def layout_of(text: str, wanted: Sequence[str] = ()) -> Layout:
    """Find the header of a log and the lines under it.

    Parameters
    ----------
    text : str
        With line feeds.
    wanted : Sequence[str]
        Names that are looked for in the header; without any, the header is guessed.

    Returns
    -------
    layout : Layout
        Header and lines.

    Raises
    ------
    InputRefused
        At path ``file``, when there is no header or nothing under it.
    """
    lines = text.split("\n")
    head = head_of(lines, wanted)
    below = lines[head.data_from :]
    ends_whole = lines[-1] == ""
    del lines
    kept, delimiter, odd = _even(below, head)
    repairs: list[Message] = []
    last_cut = _last_is_cut(below, odd, kept, delimiter, ends_whole=ends_whole)
    if last_cut:
        repairs.append(Message("cut_last_line", "The last line was cut off and was left out."))
        if odd and odd[-1] == len(below) - 1:
            odd.pop()
        elif kept:
            kept.pop()
    if len(odd) > len(kept) or len(kept) < FEWEST_ROWS:
        raise refused(_nothing_below(head, len(odd), len(kept)))
    doubts = _odd_words(odd, len(kept), head.data_from + 1, repairs)
    return Layout(
        names=head.names,
        units=head.units,
        delimiter=delimiter,
        lines=kept,
        repairs=tuple(repairs),
        doubts=doubts,
    )


def head_of(lines: Sequence[str], wanted: Sequence[str] = ()) -> Head:
    """Find the header among the first lines.

    Parameters
    ----------
    lines : Sequence[str]
        Of the file, from its first.
    wanted : Sequence[str]
        Names that are looked for.

    Returns
    -------
    head : Head
        Its place, delimiter, names and units.

    Raises
    ------
    InputRefused
        At path ``file``, when there is no header.
    """
    top = lines[:HEAD_LINES]
    found = _by_names(top, wanted) or _by_shape(top)
    if found is None:
        raise refused("holds no table: there are no rows of values with a delimiter between them")
    at, delimiter = found
    names = _without_end(_names(top[at], delimiter))
    follows = next((k for k in range(at + 1, len(top)) if top[k].strip()), None)
    units: list[str] = []
    if follows is not None:
        fields = split(top[follows], delimiter)
        if len(names) <= len(fields) <= len(names) + 1 and are_units(fields):
            units = [field.strip() for field in fields[: len(names)]]
    data_from = follows + 1 if units and follows is not None else at + 1
    return Head(
        delimiter=delimiter, at=at, names=tuple(names), units=tuple(units), data_from=data_from
    )


def _names(line: str, delimiter: str) -> list[str]:
    """Take a header apart; it may stand behind the sign of a comment."""
    names = split(line, delimiter)
    if names and names[0].lstrip()[:1] in set(COMMENT_SIGNS) and names[0].strip(COMMENT_SIGNS):
        names[0] = names[0].lstrip(COMMENT_SIGNS)
    elif names and not names[0].strip(COMMENT_SIGNS) and delimiter == " ":
        names = names[1:]
    return names


def _without_end(names: list[str]) -> list[str]:
    """Drop the empty name behind a delimiter at the end."""
    while names and not names[-1].strip():
        names.pop()
    return names


def _by_names(top: Sequence[str], wanted: Sequence[str]) -> tuple[int, str] | None:
    """Find the line and the delimiter that show most of the wanted names."""
    sought = {plain(name) for name in wanted}
    best, most = None, 0
    for at, line in enumerate(top):
        told = plain(line)
        if not any(name in told for name in sought):
            continue
        for delimiter in DELIMITERS:
            fields = _names(line, delimiter)
            hits = len(sought.intersection(map(plain, fields))) if len(fields) > 1 else 0
            if hits > most:
                best, most = (at, delimiter), hits
    return best


def _by_shape(top: Sequence[str]) -> tuple[int, str] | None:
    """Find the delimiter under which most lines are rows of values, and the line above them."""
    best, best_score = None, 0.0
    for delimiter in DELIMITERS:
        rows = [split(line, delimiter) for line in top]
        data = [at for at, fields in enumerate(rows) if is_data(fields)]
        widths = Counter(len(rows[at]) for at in data)
        if not widths:
            continue
        width, count = widths.most_common(1)[0]
        if count > CLEARLY_BETTER * best_score:
            first = next(at for at in data if len(rows[at]) == width)
            best, best_score = (_above(rows, first, width), delimiter), float(count)
    if best is not None and best[0] < 0:
        raise refused(
            "has no header: put a line with the names of the columns above the first values"
        )
    return best


def _above(rows: Sequence[list[str]], first: int, width: int) -> int:
    """Find the header above the first row of values; -1 where there is none."""
    above = [at for at in range(first) if width - 1 <= len(_without_end(rows[at][:])) <= width]
    above = [at for at in above if not is_data(rows[at])]
    if not above:
        return -1
    if len(above) > 1 and are_units(rows[above[-1]]) and not _could_be_names(rows[above[-1]]):
        return above[-2]
    return above[-1]


def _could_be_names(fields: Sequence[str]) -> bool:
    """Tell names from units: no two names are alike."""
    said = [plain(field) for field in fields if field.strip()]
    return len(set(said)) == len(said)


def _even(below: list[str], head: Head) -> tuple[list[str], str, list[int]]:
    """Keep the lines with one field for each name; give the places of the others."""
    count = len(head.names)
    anew = head.delimiter == " " or any('"' in line for line in below)
    delimiter = JOINT if anew else head.delimiter
    kept: list[str] = []
    odd: list[int] = []
    blank = delimiter + " \t"
    for at, line in enumerate(below):
        row = JOINT.join(_anew(line, head.delimiter, count)) if anew else line
        delimiters = row.count(delimiter)
        if delimiters == count - 1 and (count > 1 or row):
            whole = row
        elif delimiters == count and row.rstrip(" ").endswith(delimiter):
            whole = row.rstrip(" ")[:-1]
        elif not row.strip(blank):
            continue
        else:
            odd.append(at)
            continue
        if whole.strip(blank):
            kept.append(whole)
    return kept, delimiter, odd


def _anew(line: str, delimiter: str, count: int) -> list[str]:
    """Take a line apart; between spaces, a date and its time of day are one field."""
    fields = split(line, delimiter)
    if delimiter == " " and len(fields) == count + 1:
        return split(DATE_AND_CLOCK.sub(r"\1T\2", line, count=1), delimiter)
    return fields


def _last_is_cut(
    below: list[str], odd: list[int], kept: list[str], delimiter: str, *, ends_whole: bool
) -> bool:
    """Tell a last line that was cut: too few fields, or no line feed and a field cut short."""
    if ends_whole or len(kept) <= FEWEST_ROWS:
        return False
    if odd and odd[-1] == len(below) - 1:
        return is_value(below[-1].partition(delimiter)[0])
    ends = [len(line.rpartition(delimiter)[2].strip()) for line in kept[-NEIGHBOURS:]]
    return 0 < ends[-1] < min(ends[:-1])


def _odd_words(
    odd: list[int], kept: int, first_line: int, repairs: list[Message]
) -> tuple[Message, ...]:
    """Say which lines were left out: a repair, or a doubt where they are many."""
    if not odd:
        return ()
    lines = counted(len(odd), "{number} line was", "{number} lines were")
    said = told(
        "{lines} left out because the number of fields is not that of the header, "
        "the first at line {line}.",
        lines=lines,
        line=odd[0] + first_line,
    )
    if len(odd) > ODD_SHARE * kept:
        text = told("{said} Export the log again.", said=said)
        return (Message("odd_lines", text),)
    repairs.append(Message("odd_lines", said))
    return ()


def _nothing_below(head: Head, odd: int, kept: int) -> str:
    """Say why there are no rows."""
    if odd < FEWEST_ROWS:
        return "has fewer than two rows of values under its header"
    if odd > kept and head.delimiter == ",":
        return told(
            "has {odd} lines whose number of fields is not that of the header. If its "
            "numbers have decimal commas, export it with semicolons between the fields",
            odd=odd,
        )
    if odd > kept:
        return told(
            "has {odd} lines whose number of fields is not that of the header: export it again",
            odd=odd,
        )
    return "has fewer than two rows of values under its header"
