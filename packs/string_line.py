"""The string line: the series string as a ruler, poles that were read, the leak. No Django."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from packs.definition import PackDefinition
from packs.picture import Disc, Label, Line, Picture, Rect, Shape
from packs.words import word

__all__ = ["LeakBar", "PoleRing", "string_line"]

Anchor = Literal["start", "middle", "end"]

_WIDTH_MM, _LEFT_MM, _RIGHT_MM, _LINE_MM, _HEIGHT_MM = 86.0, 3.0, 83.0, 15.0, 40.0
_ROWS_MM = (24.0, 28.4)
"""Heights at which voltages stand below the ruler, turn by turn [mm]."""
_LETTER_MM, _EDGE_MM, _ASIDE_MM = 2.2, 8.0, 1.9


@dataclass(frozen=True, slots=True, kw_only=True)
class PoleRing:
    """A pole that was read without shunt: cells from pack negative, and what it showed [V].

    `side` is -1 for a positive pole, which ends its module, and 1 for a negative one.
    """

    cells: float
    volts: float
    name: str
    side: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakBar:
    """A leak: cells from pack negative, with its interval."""

    cells: float
    low_cells: float
    high_cells: float


def _ruler(pack: PackDefinition, links: Sequence[str], scale: float) -> list[Shape]:
    """Draw the string with a tick at each module border; an open link is a gap."""
    shapes: list[Shape] = [
        Line(x1=_LEFT_MM, y1=_LINE_MM, x2=_RIGHT_MM, y2=_LINE_MM, width=0.8),
        Line(x1=_LEFT_MM, y1=_LINE_MM - 2, x2=_LEFT_MM, y2=_LINE_MM + 2),
    ]
    cells = 0
    for index, module in enumerate(pack.modules):
        middle = _LEFT_MM + (cells + module.cells / 2) * scale
        cells += module.cells
        x_mm = _LEFT_MM + cells * scale
        shapes.append(Line(x1=x_mm, y1=_LINE_MM - 2, x2=x_mm, y2=_LINE_MM + 2))
        every = 1 if len(pack.modules) <= 10 else 2  # noqa: PLR2004 - names must not touch
        if index % every == 0:
            label = Label(x=middle, y=_LINE_MM + 5.4, text=module.name, size=2.9, ink="soft")
            shapes.append(label)
        if module.name in links:
            shapes += [
                Rect(x=x_mm - 0.8, y=_LINE_MM - 0.7, width=1.6, height=1.4, ink="paper",
                     fill="paper", stroke=0.2),
                Line(x1=x_mm - 0.8, y1=_LINE_MM - 2.4, x2=x_mm - 0.8, y2=_LINE_MM + 2.4, ink="hv"),
                Line(x1=x_mm + 0.8, y1=_LINE_MM - 2.4, x2=x_mm + 0.8, y2=_LINE_MM + 2.4, ink="hv"),
            ]  # fmt: skip
    return shapes


def _leak(leak: LeakBar, scale: float) -> list[Shape]:
    low_mm, high_mm = (_LEFT_MM + cells * scale for cells in (leak.low_cells, leak.high_cells))
    x_mm = _LEFT_MM + leak.cells * scale
    return [
        Rect(x=low_mm, y=_LINE_MM - 5, width=max(0.4, high_mm - low_mm), height=10,
             ink="line", fill="line", stroke=0.1),
        Line(x1=x_mm, y1=_LINE_MM - 7.5, x2=x_mm, y2=_LINE_MM + 5, ink="petrol", width=1.2),
        Label(x=x_mm, y=_LINE_MM - 9, text="leak", ink="petrol", bold=True,
              anchor="start" if x_mm < _LEFT_MM + _EDGE_MM else "middle"),
    ]  # fmt: skip


def _extent(x_mm: float, words: str, side: int) -> tuple[Anchor, float, float]:
    """Give how a label hangs at a ring, and from where to where it reaches."""
    width = _LETTER_MM * len(words)
    if side < 0 and x_mm - width > 0.0:
        return "end", x_mm - width, x_mm
    if side > 0 and x_mm + width < _WIDTH_MM:
        return "start", x_mm, x_mm + width
    if x_mm + width / 2 > _WIDTH_MM:
        return "end", x_mm - width, x_mm
    return ("middle", x_mm - width / 2, x_mm + width / 2) if x_mm > width / 2 else (
        "start", x_mm, x_mm + width
    )  # fmt: skip


def _rings(rings: Sequence[PoleRing], scale: float) -> list[Shape]:
    """Draw the poles that were read; two at one border stand to its left and its right."""
    shapes: list[Shape] = []
    taken = [-_WIDTH_MM] * len(_ROWS_MM)
    for ring in sorted(rings, key=lambda one: (one.cells, one.side)):
        x_mm = _LEFT_MM + ring.cells * scale + _ASIDE_MM * ring.side
        words = f"{ring.volts:.4g} V".replace("-", "\u2212")
        anchor, from_mm, to_mm = _extent(x_mm, words, ring.side)
        free = (row for row, end_mm in enumerate(taken) if from_mm > end_mm + 1.0)
        row = next(free, taken.index(min(taken)))
        taken[row] = to_mm
        shapes += [
            Disc(x=x_mm, y=_LINE_MM, radius=1.5, form="ring"),
            Label(x=x_mm, y=_ROWS_MM[row], text=words, size=3.7, bold=True, anchor=anchor),
        ]
    return shapes


def _spoken(pack: PackDefinition, rings: Sequence[PoleRing], leaks: Sequence[LeakBar]) -> str:
    said = [f"{ring.name} {ring.volts:.4g} V" for ring in rings]
    said += [
        word(
            "leak {cells:.1f} cells from negative, {low:.1f} to {high:.1f}",
            cells=one.cells,
            low=one.low_cells,
            high=one.high_cells,
        )
        for one in leaks
    ]
    return word(
        "{count} cells in series. {said}.",
        count=pack.cells_total,
        said="; ".join(said) or word("Nothing read"),
    )


def string_line(
    pack: PackDefinition,
    *,
    rings: Sequence[PoleRing],
    leaks: Sequence[LeakBar] = (),
    links: Sequence[str] = (),
    string_v: float | None = None,
) -> Picture:
    """Draw the string as a ruler, with the poles that were read and where the leak lies.

    Parameters
    ----------
    pack : PackDefinition
        Its modules in series, from pack negative.
    rings : Sequence[PoleRing]
        Poles that were read, open rings with their voltage [V].
    leaks : Sequence[LeakBar]
        Leaks, each a bar with its interval as a band.
    links : Sequence[str]
        Modules after which the link was open.
    string_v : float | None
        Voltage of the whole string, written at its ends [V].

    Returns
    -------
    Picture
        The line from pack negative at the left.
    """
    scale = (_RIGHT_MM - _LEFT_MM) / pack.cells_total
    bars = [shape for leak in leaks for shape in _leak(leak, scale)]
    end = "+" if string_v is None else f"{string_v:.4g} V +"
    ends = [
        Label(x=_LEFT_MM, y=_HEIGHT_MM - 6.5, text="− 0 V", size=3.3, anchor="start", ink="soft"),
        Label(x=_RIGHT_MM, y=_HEIGHT_MM - 6.5, text=end, size=3.3, anchor="end", ink="soft"),
    ]
    if links:
        words = word("gap: link open after {names}", names=", ".join(links))
        low = _HEIGHT_MM - 1.5
        label = Label(x=_LEFT_MM, y=low, text=words, size=3.3, anchor="start", ink="soft")
        ends.append(label)
    return Picture(
        width_mm=_WIDTH_MM,
        height_mm=_HEIGHT_MM,
        title=word("String line"),
        description=_spoken(pack, rings, leaks),
        shapes=(*bars, *_ruler(pack, links, scale), *_rings(rings, scale), *ends),
    )
