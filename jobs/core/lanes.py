"""The lanes: one thin line for each module, each cell a tick at its offset from the median.

Pure data. Not here: where the offsets come from (`packs.physics.cycle`).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from packs.picture import Disc, Label, Line, Picture, Rect, Shape
from packs.words import word

__all__ = ["TITLE", "Lane", "lanes"]

TITLE = "Cells by module, at rest"

_WIDTH_MM, _LEFT_MM, _RIGHT_MM, _LANE_MM, _TOP_MM = 96.0, 15.0, 69.0, 4.6, 9.0
_TICK_MM = 1.5
WORDS = {
    "high_resistance": "high resistance",
    "low_capacity": "low capacity",
    "offset": "apart at rest",
    "sensor": "not to be trusted",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One module.

    Attributes
    ----------
    name : str
        Of the module.
    cells : tuple[tuple[int, float | None], ...]
        Number and offset from the string's median of each cell [mV].
    odd : tuple[tuple[int, tuple[str, ...]], ...]
        Cells that stand out, with their flags.
    new : bool
        Whether the module was put in by this job.
    """

    name: str
    cells: tuple[tuple[int, float | None], ...]
    odd: tuple[tuple[int, tuple[str, ...]], ...] = ()
    new: bool = False


Place = Callable[[float], float]


def _words(lane: Lane) -> str:
    told = [f"{n} {word(WORDS.get(flags[0], flags[0]))}" for n, flags in lane.odd]
    words = [*([word("new")] if lane.new else []), *told[:1]]
    return ", ".join(words) + (f" +{len(told) - 1}" if len(told) > 1 else "")


def _drawn(lane: Lane, y_mm: float, x_of: Place) -> list[Shape]:
    odd = dict(lane.odd)
    bold = bool(odd) or lane.new
    shapes: list[Shape] = [
        Line(x1=_LEFT_MM, y1=y_mm, x2=_RIGHT_MM, y2=y_mm, ink="line", width=0.2),
        Label(x=_LEFT_MM - 2, y=y_mm + 1, text=lane.name, size=2.7, anchor="end", bold=bold),
    ]
    if lane.new:
        shapes.append(Rect(x=0.6, y=y_mm - 1.1, width=2.2, height=2.2, ink="petrol", fill="petrol"))
    for number, offset_mv in lane.cells:
        if offset_mv is None:
            continue
        x_mm = x_of(offset_mv)
        shapes.append(Line(x1=x_mm, y1=y_mm - _TICK_MM, x2=x_mm, y2=y_mm + _TICK_MM, width=0.3))
        if number in odd:
            shapes.append(Disc(x=x_mm, y=y_mm, radius=1.3, form="octagon", ink="no"))
    words = _words(lane)
    if words:
        shapes.append(Label(x=_RIGHT_MM + 1, y=y_mm + 0.9, text=words, size=2.2, anchor="start"))
    return shapes


def _described(rows: Sequence[Lane], spread_mv: float, limit_mv: float) -> str:
    told = [
        word(
            "cell {number} in {module}: {flags}",
            number=number,
            module=lane.name,
            flags=", ".join(word(WORDS.get(flag, flag)) for flag in flags),
        )
        for lane in rows
        for number, flags in lane.odd
    ]
    new = [lane.name for lane in rows if lane.new]
    cells = sum(len(lane.cells) for lane in rows)
    parts = [
        word(
            "{cells} cells in {modules} modules lie {mv:.1f} mV apart at rest",
            cells=cells,
            modules=len(rows),
            mv=spread_mv,
        ),
        word("{mv:g} mV are allowed", mv=limit_mv),
    ]
    parts += [word("new: {names}", names=", ".join(new))] if new else []
    odd = word("standing out: {names}", names="; ".join(told))
    parts.append(odd if told else word("no cell stands out"))
    return ". ".join(f"{part[:1].upper()}{part[1:]}" for part in parts) + "."


def lanes(rows: Sequence[Lane], *, limit_mv: float) -> Picture | None:
    """Draw every module's cells at their offset from the string's median.

    Parameters
    ----------
    rows : Sequence[Lane]
        In series order from pack negative.
    limit_mv : float
        How far highest and lowest cell may be apart at rest [mV]; drawn as two hairlines about
        the middle of all cells, so that the limit is kept where no tick lies outside.

    Returns
    -------
    Picture | None
        None where no cell has an offset.
    """
    known = [mv for lane in rows for _, mv in lane.cells if mv is not None]
    if not known:
        return None
    low_mv, high_mv = min(known), max(known)
    middle_mv = (low_mv + high_mv) / 2.0
    half_mv = 1.12 * max(limit_mv, high_mv - low_mv) / 2.0

    def x_of(offset_mv: float) -> float:
        return _LEFT_MM + (offset_mv - middle_mv + half_mv) / (2 * half_mv) * (_RIGHT_MM - _LEFT_MM)

    bottom_mm = _TOP_MM + _LANE_MM * (len(rows) - 1) + 3.0
    ends_mm = [x_of(middle_mv + side * limit_mv / 2.0) for side in (-1, 1)]
    shapes: list[Shape] = [
        Line(x1=x_mm, y1=5, x2=x_mm, y2=bottom_mm, ink="soft", width=0.2, dashed=True)
        for x_mm in ends_mm
    ]
    centre_mm = sum(ends_mm) / 2.0
    allowed = word("{mv:g} mV allowed", mv=limit_mv)
    shapes.append(Label(x=centre_mm, y=3.6, text=allowed, size=2.6, ink="soft"))
    shapes.append(Line(x1=x_of(0), y1=6, x2=x_of(0), y2=bottom_mm, ink="soft", width=0.2))
    for place, lane in enumerate(rows):
        shapes += _drawn(lane, _TOP_MM + _LANE_MM * place, x_of)
    shapes += _scale(x_of, bottom_mm + 3.2, low_mv, high_mv)
    return Picture(
        width_mm=_WIDTH_MM,
        height_mm=bottom_mm + 5.0,
        title=TITLE,
        description=_described(rows, high_mv - low_mv, limit_mv),
        shapes=tuple(shapes),
    )


def _scale(x_of: Place, y_mm: float, low_mv: float, high_mv: float) -> list[Shape]:
    """Write lowest and highest offset, and where the median lies."""
    shapes: list[Shape] = [Label(x=x_of(0), y=y_mm, text=word("median"), size=2.4, ink="soft")]
    ends: tuple[tuple[float, Literal["start", "end"], float], ...] = (
        (low_mv, "end", -4.5),
        (high_mv, "start", 4.5),
    )
    for offset_mv, anchor, shift in ends:
        near = abs(x_of(offset_mv) - x_of(0)) < -ends[0][2]
        x_mm = (x_of(0) + shift) if near else x_of(offset_mv)
        text = f"{offset_mv:+.1f} mV"
        shapes.append(Label(x=x_mm, y=y_mm, text=text, size=2.4, anchor=anchor, ink="soft"))
    return shapes
