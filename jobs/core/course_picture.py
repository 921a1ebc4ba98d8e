"""The course of a job as a picture: a lane for each party it waited for, time from left to right.

The place of a bar says whom it waited for, not its colour. Words come in; they are translated
where they are made.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from packs.picture import Ink, Label, Line, Picture, Rect, Shape

__all__ = ["Lane", "Tick", "course_picture"]

_WIDTH, _LEFT, _LANE, _TOP = 96.0, 25.0, 7.0, 2.0
_LEAST = 0.5
"""Width of the shortest stretch, so that it can be seen [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One party: its name, how long altogether in words, its stretches as shares of the time."""

    name: str
    total: str
    spans: tuple[tuple[float, float], ...]
    ink: Ink = "petrol"


@dataclass(frozen=True, slots=True)
class Tick:
    """A day on the scale: its place as a share of the time, and its words."""

    share: float
    text: str


def _x(share: float) -> float:
    return _LEFT + min(max(share, 0.0), 1.0) * (_WIDTH - _LEFT)


def _lane(lane: Lane, y_mm: float) -> list[Shape]:
    shapes: list[Shape] = [
        Label(x=0.0, y=y_mm + 2.6, text=lane.name, size=3.2, anchor="start"),
        Label(x=0.0, y=y_mm + 5.6, text=lane.total, size=2.6, anchor="start", ink="soft"),
        Line(x1=_LEFT, y1=y_mm + 3.0, x2=_WIDTH, y2=y_mm + 3.0, ink="line", width=0.2),
    ]
    for begin, end in lane.spans:
        width = max(_x(end) - _x(begin), _LEAST)
        left = min(_x(begin), _WIDTH - width)
        bar = Rect(x=left, y=y_mm + 1.0, width=width, height=4.0, ink=lane.ink, fill=lane.ink)
        shapes.append(bar)
    return shapes


def _day(x_mm: float, y_mm: float, text: str) -> Label:
    at_the_end = x_mm > _WIDTH - 8
    anchor: Literal["start", "end"] = "end" if at_the_end else "start"
    return Label(x=x_mm, y=y_mm, text=text, size=2.6, anchor=anchor, ink="soft")


def course_picture(lanes: Sequence[Lane], ticks: Sequence[Tick], title: str) -> Picture:
    """Draw whom a job waited for, and when.

    Parameters
    ----------
    lanes : Sequence[Lane]
        From the top; what never happened is left out by whoever asks.
    ticks : Sequence[Tick]
        Days on the scale.
    title : str
        What the picture is called.

    Returns
    -------
    Picture
        As high as its lanes; a short stretch is drawn half a millimetre wide.

    Examples
    --------
    >>> lane = Lane(name="Customer", total="2 d", spans=((0.0, 0.5),))
    >>> course_picture([lane], [Tick(0.0, "2 Mar")], "Course").description
    'Customer 2 d.'
    """
    low = _TOP + _LANE * len(lanes)
    shapes: list[Shape] = []
    for tick in ticks:
        x_mm = _x(tick.share)
        shapes.append(Line(x1=x_mm, y1=_TOP, x2=x_mm, y2=low + 0.8, ink="line", width=0.2))
        shapes.append(_day(x_mm, low + 4.0, tick.text))
    for place, lane in enumerate(lanes):
        shapes += _lane(lane, _TOP + _LANE * place)
    return Picture(
        width_mm=_WIDTH,
        height_mm=low + 5.0,
        title=title,
        description=", ".join(f"{lane.name} {lane.total}" for lane in lanes) + ".",
        shapes=tuple(shapes),
    )
