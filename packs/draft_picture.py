"""The pack map with the string drawn through it, of a definition that may be half filled.

Draws what there is: modules without a place stand in a line below, two in one place are said in
words. The map of a job is packs/pack_map.py. No Django, no files, no clock.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

from typing_extensions import override

from packs.definition_content import value_at
from packs.definition_fields import as_list, as_table, as_text
from packs.picture import Label, Line, Picture, Rect, Shape
from packs.words import word

MOST_IN_LINE: Final = 50
"""Rows and columns that are drawn at most [1]."""

MOST_DRAWN: Final = 200
_W, _H, _GAP, _EDGE, _SIDE = 14.0, 16.0, 2.0, 3.0, 6.0
_NAME_CHARACTERS = 7
_UNPLACED_ACROSS = 8
_SAID_AT_MOST = 6


@dataclass(frozen=True, slots=True)
class Placed:
    """A module as it is drawn: name, cells in words, position in series, row, column."""

    name: str
    cells: str
    order: int
    row: int
    column: int
    has_place: bool = True

    @property
    def centre(self) -> tuple[float, float]:
        """Middle of the module [mm]."""
        x_mm = _SIDE + (self.column - 1) * (_W + _GAP) + _W / 2
        return x_mm, _EDGE + (self.row - 1) * (_H + _GAP) + _H / 2


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something about the places that a person should look at: a sentence and its names."""

    sentence: str
    names: str

    @override
    def __str__(self) -> str:
        """Return the sentence in English."""
        return self.sentence.format(names=self.names)


NO_PLACE: Final = "Without a place: {names}."
SAME_PLACE: Final = "In the same place: {names}."
APART: Final = "Joined in series but not side by side: {names}."


def string_map(content: Mapping[str, Any], *, title: str = "Pack map") -> Picture:
    """Draw the modules where they lie, and the string through them in series order.

    Parameters
    ----------
    content : Mapping
        A definition's table, possibly unfinished.
    title : str
        Title spoken by a screen reader.

    Returns
    -------
    Picture
        Numbers give the series order from pack negative; a bar is the service disconnect.
    """
    modules = placed(content)
    columns = max((module.column for module in modules), default=3)
    rows = max((module.row for module in modules), default=1)
    width_mm = max(2 * _SIDE + columns * (_W + _GAP) - _GAP, 70.0)
    height_mm = 2 * _EDGE + rows * (_H + _GAP) - _GAP
    frame = Rect(x=0.4, y=0.4, width=width_mm - 0.8, height=height_mm - 0.8, radius=3.0, stroke=0.7)
    after = as_text(value_at(content, "disconnect.after_module"))
    shapes: list[Shape] = [frame]
    for module in modules:
        shapes += _box(module)
    shapes += _string(modules)
    for module in modules:
        shapes += _words(module)
    shapes += _bar(modules, after)
    return Picture(
        width_mm=width_mm,
        height_mm=height_mm + 6.0,
        title=title,
        description=" ".join(
            [word("{count} modules.", count=len(modules)), *(str(each) for each in doubts(content))]
        ),
        shapes=(*shapes, *_legend(width_mm, height_mm + 4.2, barred=bool(_bar(modules, after)))),
    )


def placed(content: Mapping[str, Any]) -> tuple[Placed, ...]:
    """Return the modules of a content with their places; those without one lie below."""
    tables = [as_table(each) for each in as_list(content.get("modules"))[:MOST_DRAWN]]
    spots = [(_whole(table.get("row")), _whole(table.get("column"))) for table in tables]
    rows = [row for row, column in spots if row and column]
    columns = [column for row, column in spots if row and column]
    first_row, first_column = min(rows, default=1), min(columns, default=1)
    below = max(rows, default=first_row - 1) - first_row + 2
    found, loose = [], 0
    for order, (table, (row, column)) in enumerate(zip(tables, spots, strict=True), start=1):
        cells = _whole(table.get("cells"))
        words = word("{count} cells", count=cells) if cells else word("cells ?")
        name = as_text(table.get("name")) or "?"
        if row and column:
            spot = (row - first_row + 1, column - first_column + 1, True)
        else:
            more, step = divmod(loose, _UNPLACED_ACROSS)
            spot = (below + more, step + 1, False)
            loose += 1
        found.append(Placed(name, words, order, *spot))
    return tuple(found)


def doubts(content: Mapping[str, Any]) -> tuple[Doubt, ...]:
    """Say where order and place do not agree, or a place is missing or taken twice."""
    modules = placed(content)
    said = []
    loose = [module.name for module in modules if not module.has_place]
    if loose:
        said.append(Doubt(NO_PLACE, _some(loose)))
    spots: dict[tuple[int, int], list[str]] = {}
    for module in modules:
        spots.setdefault((module.row, module.column), []).append(module.name)
    shared = [word(" and ").join(names) for names in spots.values() if len(names) > 1]
    if shared:
        said.append(Doubt(SAME_PLACE, _some(shared)))
    apart = [
        word("{first} to {second}", first=one.name, second=two.name)
        for one, two in pairwise(modules)
        if one.has_place and two.has_place and _far(one, two)
    ]
    if apart:
        said.append(Doubt(APART, _some(apart)))
    return tuple(said)


def _some(names: Sequence[str]) -> str:
    """Name some, and say how many more there are."""
    rest = len(names) - _SAID_AT_MOST
    return ", ".join(names[:_SAID_AT_MOST]) + (
        word(" and {count} more", count=rest) if rest > 0 else ""
    )


def _far(one: Placed, two: Placed) -> bool:
    """Say whether two modules do not touch."""
    return abs(one.row - two.row) + abs(one.column - two.column) > 1


def _whole(value: object) -> int:
    """Return a count that can be drawn, else 0."""
    if isinstance(value, bool) or not isinstance(value, int):
        return 0
    return value if 1 <= value <= MOST_IN_LINE * 4 else 0


def _box(module: Placed) -> Iterator[Shape]:
    """Draw a module's case."""
    x_mm, y_mm = module.centre
    yield Rect(
        x=x_mm - _W / 2,
        y=y_mm - _H / 2,
        width=_W,
        height=_H,
        ink="soft" if module.has_place else "maybe",
        fill="paper",
        radius=1.0,
        stroke=0.3 if module.has_place else 0.6,
    )


def _words(module: Placed) -> Iterator[Shape]:
    """Write a module's name, cells and position in series."""
    x_mm, y_mm = module.centre
    name = module.name
    if len(name) > _NAME_CHARACTERS:
        name = f"{name[: _NAME_CHARACTERS - 1]}…"
    yield Label(x=x_mm, y=y_mm - 3.4, text=name, size=3.2, bold=True)
    yield Label(x=x_mm, y=y_mm + 6.6, text=module.cells, size=2.3, ink="soft")
    yield Label(x=x_mm + 3.4, y=y_mm + 3.4, text=str(module.order), size=2.3, ink="petrol")


def _string(modules: Sequence[Placed]) -> Iterator[Shape]:
    """Draw the string from pack negative to pack positive."""
    if not modules:
        return
    for one, two in pairwise(modules):
        (x1, y1), (x2, y2) = one.centre, two.centre
        yield Line(x1=x1, y1=y1, x2=x2, y2=y2, ink="petrol", width=0.5, dashed=_far(one, two))
    for module, sign, side in ((modules[0], "−", -1), (modules[-1], "+", 1)):
        x_mm, y_mm = module.centre
        yield Label(x=x_mm + side * 5.2, y=y_mm - 0.7, text=sign, size=4.0, ink="petrol", bold=True)


def _bar(modules: Sequence[Placed], after: str) -> list[Shape]:
    """Draw the service disconnect across the string, between two modules."""
    for one, two in pairwise(modules):
        if after and one.name == after:
            (x1, y1), (x2, y2) = one.centre, two.centre
            x_mm, y_mm = (x1 + x2) / 2, (y1 + y2) / 2
            across = abs(x2 - x1) >= abs(y2 - y1)
            half_x, half_y = (0.0, 5.0) if across else (5.0, 0.0)
            return [
                Line(
                    x1=x_mm - half_x,
                    y1=y_mm - half_y,
                    x2=x_mm + half_x,
                    y2=y_mm + half_y,
                    ink="hv",
                    width=1.4,
                )
            ]
    return []


def _legend(width_mm: float, y_mm: float, *, barred: bool) -> Iterator[Shape]:
    """Say what the marks mean."""
    yield Label(x=0.5, y=y_mm, text=word("front at the left"), size=2.6, anchor="start", ink="soft")
    words = word("line: string, − to +") + (word("; bar: disconnect") if barred else "")
    yield Label(x=width_mm, y=y_mm, text=words, size=2.6, anchor="end", ink="soft")
