"""Pictures as data: shapes in millimetres, drawn once as SVG and once in the PDF.

Here: the shapes, `Picture`, and the two pictures every room may use: the pack map and the
before-and-after line. Not here: how they are drawn (`jobs.report.svg`, `jobs.report.pdf`).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from packs.definition import PackDefinition

__all__ = ["Disc", "Label", "Line", "Picture", "Rect", "Shape", "before_after", "pack_map"]

Ink = Literal["ink", "soft", "line", "petrol", "hv", "ok", "no", "maybe", "paper"]
"""Names of the colours; the page and the PDF each have their own value for them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A straight line [mm]."""

    x1: float
    y1: float
    x2: float
    y2: float
    ink: Ink = "ink"
    width: float = 0.4
    dashed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Rect:
    """A rectangle [mm]; `hatch` from 0 (none) to 1 (dense) shows a probability."""

    x: float
    y: float
    width: float
    height: float
    ink: Ink = "ink"
    fill: Ink | None = None
    radius: float = 0.0
    hatch: float = 0.0
    stroke: float = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """A mark of a verdict [mm]: disc (pass), octagon (fail), diamond (undecided), ring."""

    x: float
    y: float
    radius: float
    form: Literal["disc", "octagon", "diamond", "ring"] = "disc"
    ink: Ink = "ink"


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A short text [mm, size in mm]."""

    x: float
    y: float
    text: str
    size: float = 3.2
    anchor: Literal["start", "middle", "end"] = "middle"
    ink: Ink = "ink"
    bold: bool = False


Shape = Line | Rect | Disc | Label


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture with the title and description that a screen reader speaks."""

    width_mm: float
    height_mm: float
    title: str
    description: str
    shapes: tuple[Shape, ...]


SHOWN_FROM = 0.01
"""Probability from which a module is marked [0 to 1]."""

_CELL_W, _CELL_H, _GAP, _EDGE = 11.0, 15.0, 1.6, 3.0


def _module_shapes(
    name: str, x_mm: float, y_mm: float, share: float, *, replaced: bool
) -> list[Shape]:
    ink: Ink = "petrol" if share > 0 or replaced else "soft"
    fill: Ink = "petrol" if replaced else "paper"
    shapes: list[Shape] = [
        Rect(
            x=x_mm,
            y=y_mm,
            width=_CELL_W,
            height=_CELL_H,
            ink=ink,
            fill=fill,
            radius=1.0,
            hatch=0.0 if replaced else share,
            stroke=0.7 if share > 0 or replaced else 0.3,
        ),
        Label(
            x=x_mm + _CELL_W / 2,
            y=y_mm + 4.4,
            text=name,
            ink="paper" if replaced else "ink",
            bold=share > 0 or replaced,
        ),
    ]
    if share > 0:
        shapes.append(
            Label(x=x_mm + _CELL_W / 2, y=y_mm + 11.6, text=f"{share:.0%}", ink="petrol", bold=True)
        )
    return shapes


def _first(pack: PackDefinition) -> tuple[int, int]:
    """Give the first row and column that the definition counts from."""
    return min(m.row for m in pack.modules), min(m.column for m in pack.modules)


def _disconnect_shape(pack: PackDefinition) -> list[Shape]:
    after = pack.disconnect.after_module
    if after is None:
        return []
    module = pack.module_named(after)
    first_row, first_column = _first(pack)
    x_mm = _EDGE + (module.column - first_column + 1) * (_CELL_W + _GAP) - _GAP / 2
    y_mm = _EDGE + (module.row - first_row) * (_CELL_H + _GAP)
    line = Line(x1=x_mm, y1=y_mm + 2, x2=x_mm, y2=y_mm + _CELL_H + 2, ink="hv", width=1.4)
    return [line]


def pack_map(
    pack: PackDefinition,
    *,
    shares: Mapping[str, float] | None = None,
    replaced: tuple[str, ...] = (),
    title: str = "Pack map",
) -> Picture:
    """Draw the modules where they lie in the enclosure.

    Parameters
    ----------
    pack : PackDefinition
        The pack; its modules carry row and column.
    shares : Mapping[str, float]
        Probability that a module leaks, by name; shown as hatching and in words [0 to 1].
    replaced : tuple[str, ...]
        Modules to show filled.
    title : str
        Title spoken by a screen reader.

    Returns
    -------
    Picture
        The map with the service disconnect as a bar and the vehicle's front at the left.
    """
    shown = {name: share for name, share in (shares or {}).items() if share >= SHOWN_FROM}
    first_row, first_column = _first(pack)
    columns = max(module.column for module in pack.modules) - first_column + 1
    rows = max(module.row for module in pack.modules) - first_row + 1
    width_mm = 2 * _EDGE + columns * (_CELL_W + _GAP) - _GAP
    height_mm = 2 * _EDGE + rows * (_CELL_H + _GAP) - _GAP
    shapes: list[Shape] = [
        Rect(x=0.4, y=0.4, width=width_mm - 0.8, height=height_mm - 0.8, radius=3.0, stroke=0.7)
    ]
    for module in pack.modules:
        share = shown.get(module.name, 0.0)
        x_mm = _EDGE + (module.column - first_column) * (_CELL_W + _GAP)
        y_mm = _EDGE + (module.row - first_row) * (_CELL_H + _GAP)
        marked = module.name in replaced
        shapes += _module_shapes(module.name, x_mm, y_mm, share, replaced=marked)
    return Picture(
        width_mm=width_mm,
        height_mm=height_mm + 6.0,
        title=title,
        description=_spoken(pack, shown, replaced),
        shapes=(*shapes, *_disconnect_shape(pack), *_legend(pack, width_mm, height_mm + 4.0)),
    )


def _spoken(pack: PackDefinition, shown: Mapping[str, float], replaced: tuple[str, ...]) -> str:
    leaks = ", ".join(f"{name} {share:.0%}" for name, share in shown.items())
    if replaced:
        marked = f"Replaced: {', '.join(replaced)}."
    else:
        marked = f"Leaks: {leaks}." if leaks else "None marked."
    return f"{len(pack.modules)} modules. {marked}"


def _legend(pack: PackDefinition, width_mm: float, y_mm: float) -> list[Label]:
    front = Label(x=0.5, y=y_mm, text="front at the left", size=2.8, anchor="start", ink="soft")
    if pack.disconnect.after_module is None:
        return [front]
    words = "bar: service disconnect"
    return [front, Label(x=width_mm, y=y_mm, text=words, size=2.8, anchor="end", ink="soft")]


_LINE_W, _LINE_Y, _DECADES = 96.0, 20.0, (1, 6)


def _log_x(ohm_per_v: float) -> float:
    low, high = _DECADES
    decade = min(max(math.log10(max(ohm_per_v, 1e-9)), low), high)
    return 6.0 + (decade - low) / (high - low) * (_LINE_W - 12.0)


def _grouped(ohm_per_v: float) -> str:
    """Write a figure to three digits, thousands apart."""
    return f"{float(f'{ohm_per_v:.3g}'):,.0f}".replace(",", "\u202f")


def _mark(ohm_per_v: float, word: str, form: Literal["disc", "octagon"], ink: Ink) -> list[Shape]:
    x_mm = _log_x(ohm_per_v)
    anchor: Literal["start", "middle", "end"] = "middle"
    if x_mm > _LINE_W - 20:
        anchor = "end"
    elif x_mm < 16:  # noqa: PLR2004
        anchor = "start"
    words = f"{word}: {_grouped(ohm_per_v)}"
    return [
        Disc(x=x_mm, y=_LINE_Y - 6, radius=1.8, form=form, ink=ink),
        Label(x=x_mm, y=_LINE_Y - 10, text=words, anchor=anchor, bold=form == "disc"),
    ]


def before_after(
    before_ohm_per_v: float | None, after_ohm_per_v: float | None, limit_ohm_per_v: float
) -> Picture:
    """Draw isolation before and after the repair on a logarithmic line.

    Parameters
    ----------
    before_ohm_per_v, after_ohm_per_v : float | None
        Isolation found and left behind [ohm/V]; None where not read.
    limit_ohm_per_v : float
        The limit [ohm/V].

    Returns
    -------
    Picture
        The line from 10 to 1 000 000 ohm per volt; a mark beyond it stands at its end.
    """
    shapes: list[Shape] = [Line(x1=6, y1=_LINE_Y, x2=_LINE_W - 6, y2=_LINE_Y, width=0.6)]
    for decade in range(_DECADES[0], _DECADES[1] + 1):
        x_mm = _log_x(10.0**decade)
        shapes.append(Line(x1=x_mm, y1=_LINE_Y - 1, x2=x_mm, y2=_LINE_Y + 1))
        words = _grouped(10.0**decade)
        shapes.append(Label(x=x_mm, y=_LINE_Y + 5, text=words, size=2.8, ink="soft"))
    x_limit = _log_x(limit_ohm_per_v)
    shapes.append(Line(x1=x_limit, y1=4, x2=x_limit, y2=_LINE_Y + 1, dashed=True))
    limit = f"limit {limit_ohm_per_v:,.0f} ohm per volt".replace(",", "\u202f")
    shapes.append(Label(x=x_limit + 1, y=4, text=limit, size=2.8, anchor="start", ink="soft"))
    spoken = [limit]
    for value, word in ((before_ohm_per_v, "before"), (after_ohm_per_v, "after")):
        if value is None:
            continue
        passed = value >= limit_ohm_per_v
        shapes += _mark(value, word, "disc" if passed else "octagon", "petrol" if passed else "ink")
        spoken.append(f"{word} {value:.0f} ohm per volt")
    return Picture(
        width_mm=_LINE_W,
        height_mm=28.0,
        title="Isolation before and after",
        description=", ".join(spoken) + ".",
        shapes=tuple(shapes),
    )
