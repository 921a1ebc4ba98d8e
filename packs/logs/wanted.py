"""Which columns of a log are wanted, by the names in its header.

Here: the names, and finding them among those that stand there. Not here: how a header is found
(layout.py).
"""

import difflib
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from packs.strict_json import InputRefused, Problem
from packs.words import told

CLOSE_NAMES = 3
LIST_AT_MOST = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Header names of a log's columns.

    Parameters
    ----------
    time_s : str
        The time, in whatever form.
    current_a : str
        The current of the string.
    cell_v : tuple of str
        The cells in series order from pack negative.
    temperature_c : tuple of str
        The sensors of temperature.
    """

    time_s: str
    current_a: str
    cell_v: tuple[str, ...]
    temperature_c: tuple[str, ...] = ()

    def named(self) -> Iterator[tuple[str, str]]:
        """Give the path and the name of each, time first, then current, cells and temperatures."""
        yield "columns.time_s", self.time_s
        yield "columns.current_a", self.current_a
        for index, name in enumerate(self.cell_v):
            yield f"columns.cell_v.{index}", name
        for index, name in enumerate(self.temperature_c):
            yield f"columns.temperature_c.{index}", name


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where the wanted columns stand, counted from zero."""

    time: int
    current: int
    cells: tuple[int, ...]
    temperatures: tuple[int, ...]

    def values(self) -> tuple[int, ...]:
        """Give all but the time: current, cells, temperatures."""
        return (self.current, *self.cells, *self.temperatures)


def plain(name: str) -> str:
    """Return a name as it is compared: no case, one kind of space, one kind of sign."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def located(columns: Columns, names: Sequence[str]) -> Places:
    """Find the wanted columns among the names of a header.

    Parameters
    ----------
    columns : Columns
        What is wanted.
    names : Sequence[str]
        What stands in the header.

    Returns
    -------
    places : Places
        Where each stands.

    Raises
    ------
    InputRefused
        With every name that is missing, stands there twice, or is wanted twice.
    """
    problems: list[Problem] = []
    found: dict[int, str] = {}
    for path, name in columns.named():
        place = _place(name, names)
        if isinstance(place, str):
            problems.append((path, place))
        elif place in found:
            problems.append(
                (path, told("names the same column as {other}: name another", other=found[place]))
            )
        else:
            found[place] = path
    if problems:
        raise InputRefused(problems)
    order = list(found)
    cells = len(columns.cell_v)
    return Places(
        time=order[0],
        current=order[1],
        cells=tuple(order[2 : 2 + cells]),
        temperatures=tuple(order[2 + cells :]),
    )


def _place(name: str, names: Sequence[str]) -> int | str:
    """Give the place of a name, or what is wrong with it."""
    exact = [index for index, each in enumerate(names) if each == name]
    alike = exact or [index for index, each in enumerate(names) if plain(each) == plain(name)]
    if len(alike) == 1:
        return alike[0]
    if alike:
        where = " and ".join(str(index + 1) for index in alike[:LIST_AT_MOST])
        return told(
            "{name!r} stands in the header more than once, in columns {where}: rename one",
            name=name,
            where=where,
        )
    return told(
        "{name!r} is not in the header of the file: {close}", name=name, close=_close(name, names)
    )


def _close(name: str, names: Sequence[str]) -> str:
    """Name what may have been meant."""
    by_plain = {plain(each): each.strip() for each in names}
    close = difflib.get_close_matches(plain(name), by_plain, n=CLOSE_NAMES, cutoff=0.5)
    if close:
        near = ", ".join(repr(by_plain[each]) for each in close)
        return told("near it are {near}", near=near)
    known = [each.strip() for each in names if each.strip()]
    listed = ", ".join(repr(each) for each in known[:LIST_AT_MOST])
    more = len(known) > LIST_AT_MOST
    return (
        told("there are {listed} and others", listed=listed)
        if more
        else told("there are {listed}", listed=listed)
    )
