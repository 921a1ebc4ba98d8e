"""Pictures as data: shapes in millimetres, drawn once as SVG and once in the PDF.

Here: the shapes and `Picture`. The pack map is packs/pack_map.py. They are drawn by packs/svg.py
and, for the PDF, by the one module of the jobs that writes PDF. No Django.
"""

from dataclasses import dataclass
from typing import Literal

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A line through points [mm], as a pen or a curve draws it."""

    points: tuple[tuple[float, float], ...]
    ink: Ink = "ink"
    width: float = 0.5


Shape = Line | Rect | Disc | Label | Stroke


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture with the title and description that a screen reader speaks."""

    width_mm: float
    height_mm: float
    title: str
    description: str
    shapes: tuple[Shape, ...]
