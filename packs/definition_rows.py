"""Fields of a definition's form that hold fields: a table, and a list of tables row by row.

The single fields are packs/definition_fields.py. Rows are added, removed and moved in what was
typed, so that nothing typed is lost. No Django, no files, no clock.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from typing_extensions import override

from packs.definition_fields import Field, FieldFault, Read, Typed, as_list, as_table, stood

MOST_ROWS = 200
"""Rows of one list [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group(Field):
    """Fields that belong together in one table; without writing in it there is none."""

    fields: tuple[Field, ...]
    sourced: bool = False

    @override
    def write(self, value: object, at: str) -> dict[str, str]:
        """Return the inputs of all its fields."""
        table = as_table(value)
        typed: dict[str, str] = {}
        for part in self.fields:
            typed |= part.write(table.get(part.path), f"{at}.{part.path}")
        return typed

    @override
    def is_typed(self, typed: Typed, at: str) -> bool:
        """Say whether something was written in any of its fields."""
        return any(part.is_typed(typed, f"{at}.{part.path}") for part in self.fields)

    @override
    def read(self, typed: Typed, at: str, before: object = None) -> Read:
        """Return the table of what is said."""
        if not self.is_typed(typed, at):
            return Read()
        held = before if isinstance(before, list) else [before]
        first = as_table(held[0]) if held else {}
        value: dict[str, Any] = {}
        faults: list[FieldFault] = []
        for part in self.fields:
            found = part.read(typed, f"{at}.{part.path}", first.get(part.path))
            faults += found.faults
            if found.value is not None:
                value[part.path] = found.value
        if self.sourced and not faults and not value.get("source") and not stood(value, held):
            faults.append(FieldFault(f"{at}.source", "source_missing"))
        return Read(value, tuple(faults))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows(Field):
    """A list of groups, row by row in order."""

    row: Group
    add: str = "Add a line"

    @override
    def write(self, value: object, at: str) -> dict[str, str]:
        """Return the inputs of every row."""
        typed: dict[str, str] = {}
        for index, each in enumerate(as_list(value)[:MOST_ROWS]):
            typed |= self.row.write(each, f"{at}.{index}")
        return typed

    def indices(self, typed: Typed, at: str) -> list[int]:
        """Return the numbers of the rows that were sent, in order."""
        start = f"{at}."
        found = {
            int(step)
            for name in typed
            if name.startswith(start)
            and (step := name[len(start) :].split(".")[0]).isascii()
            and step.isdigit()
            and len(step) < len("10000")
        }
        return sorted(found)[: MOST_ROWS * 2]

    @override
    def is_typed(self, typed: Typed, at: str) -> bool:
        """Say whether something was written in any row."""
        return any(self.row.is_typed(typed, f"{at}.{each}") for each in self.indices(typed, at))

    @override
    def read(self, typed: Typed, at: str, before: object = None) -> Read:
        """Return the rows in which something is written."""
        rows: list[Any] = []
        faults: list[FieldFault] = []
        for index in self.indices(typed, at):
            found = self.row.read(typed, f"{at}.{index}", list(as_list(before)))
            faults += found.faults
            if found.value is not None or found.faults:
                rows.append(found.value)
        if len(rows) > MOST_ROWS:
            faults.append(FieldFault(at, "too_many_rows"))
        return Read(rows or None, tuple(faults))


def parts_of(fields: Sequence[Field]) -> Iterator[Field]:
    """Yield fields and the fields inside them."""
    for each in fields:
        yield each
        if isinstance(each, Group):
            yield from parts_of(each.fields)
        elif isinstance(each, Rows):
            yield from parts_of(each.row.fields)


@dataclass(frozen=True, slots=True)
class Act:
    """What a button of a row asks: which list, which row, and what becomes of it."""

    at: str
    what: str
    index: int = 0


def act_of(text: str) -> Act | None:
    """Read what a button sent; None if it is no act of a row.

    Examples
    --------
    >>> act_of("modules.2.up"), act_of("modules.add").what, act_of("save")
    (Act(at='modules', what='up', index=2), 'add', None)
    """
    at, _, what = text.rpartition(".")
    if what == "add" and at:
        return Act(at, what)
    at, _, index = at.rpartition(".")
    if what not in {"up", "down", "remove"} or not at or not index.isdecimal():
        return None
    return Act(at, what, int(index)) if len(index) < len("10000") else None


def after_act(typed: Typed, rows: Rows, act: Act) -> tuple[dict[str, str], int]:
    """Return what was typed after a row was added, removed or moved, and which row to look at.

    Parameters
    ----------
    typed : Mapping
        What stands in the inputs.
    rows : Rows
        The list.
    act : Act
        What was asked.

    Returns
    -------
    dict, int
        The inputs, rows counted from 0 without gaps, and the position of the row concerned [1].
    """
    present = rows.indices(typed, act.at)
    order = [each for each in present if rows.row.is_typed(typed, f"{act.at}.{each}")]
    if act.what == "add":
        place = len(order)
        order += [-1 - each for each in range(len(present) - len(order) + 1)]
    elif act.index not in order:
        place = max(0, len(order) - 1)
    elif act.what == "remove":
        place = order.index(act.index)
        order.remove(act.index)
    else:
        here = order.index(act.index)
        place = max(0, here - 1) if act.what == "up" else min(len(order) - 1, here + 1)
        order.insert(place, order.pop(here))
    start = f"{act.at}."
    kept = {name: text for name, text in typed.items() if not name.startswith(start)}
    for new, old in enumerate(order):
        moved = f"{start}{old}."
        kept |= {
            f"{start}{new}.{name[len(moved) :]}": text
            for name, text in typed.items()
            if name.startswith(moved)
        }
        if old < 0:
            kept |= rows.row.write({}, f"{start}{new}")
    return kept, place
