"""The course of a watch as a picture: how far the hottest point stood above the air around."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from math import ceil, floor

from jobs.core.watch import Check, Word, in_force
from packs.picture import Disc, Label, Line, Picture, Shape
from packs.words import word

__all__ = ["watch_picture"]

_WIDTH, _HEIGHT = 150.0, 48.5
_LEFT, _RIGHT, _TOP, _BOTTOM = 14.0, 146.0, 5.0, 42.0
_STEPS_H = (0.25, 0.5, 1, 2, 4, 6, 12, 24, 48, 96, 168)
_MOST_TICKS = 7
_NARROW_C, _DAYS_FROM_H = 30, 48


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """What the picture spans: hours from the start, kelvin above the air around."""

    span_h: float
    low_c: float
    high_c: float

    def x_of(self, hours: float) -> float:
        """Give the place of a time [mm]."""
        return _LEFT + max(hours, 0.0) / self.span_h * (_RIGHT - _LEFT)

    def y_of(self, above_c: float) -> float:
        """Give the place of a temperature above the air [mm]."""
        share = (above_c - self.low_c) / (self.high_c - self.low_c)
        return _BOTTOM - share * (_BOTTOM - _TOP)


def _hours(hours: float) -> str:
    if hours < 1:
        return f"{hours * 60:.0f} min"
    return f"{hours:.0f} h" if hours < _DAYS_FROM_H else f"{hours / 24:.0f} d"


def _rungs(frame: _Frame) -> Iterator[Shape]:
    """Draw the marks of the temperature."""
    yield Line(x1=_LEFT, y1=_TOP, x2=_LEFT, y2=_BOTTOM, ink="line")
    step_c = 5 if frame.high_c - frame.low_c <= _NARROW_C else 20
    for above_c in range(floor(frame.low_c), ceil(frame.high_c)):
        if above_c % step_c:
            continue
        y_mm = frame.y_of(above_c)
        words = f"{above_c} K".replace("-", "\N{MINUS SIGN}")
        yield Line(x1=_LEFT, y1=y_mm, x2=_RIGHT, y2=y_mm, ink="line", width=0.25)
        yield Label(x=_LEFT - 1.5, y=y_mm + 1.1, text=words, anchor="end", ink="soft")


def _times(frame: _Frame) -> Iterator[Shape]:
    """Draw the marks of the time."""
    step_h = next((h for h in _STEPS_H if frame.span_h / h <= _MOST_TICKS), frame.span_h)
    for mark in range(floor(frame.span_h / step_h + 1e-9) + 1):
        x_mm = frame.x_of(mark * step_h)
        words = word("start") if mark == 0 else _hours(mark * step_h)
        yield Line(x1=x_mm, y1=_BOTTOM, x2=x_mm, y2=_BOTTOM + 1.2, ink="soft")
        yield Label(x=x_mm, y=_BOTTOM + 5, text=words, ink="soft")


def _limit(frame: _Frame, limit_c: float) -> Iterator[Shape]:
    y_mm = frame.y_of(limit_c)
    yield Line(x1=_LEFT, y1=y_mm, x2=_RIGHT, y2=y_mm, ink="no", dashed=True)
    yield Label(
        x=_LEFT + 2,
        y=y_mm - 1.2,
        text=word("limit {value:g} K", value=limit_c),
        anchor="start",
        ink="no",
    )


def _course(frame: _Frame, measured: Sequence[tuple[float, float, Word]]) -> Iterator[Shape]:
    """Draw the checks, the others than calm ones larger and with corners."""
    for (x1, y1, _), (x2, y2, _) in pairwise(measured):
        yield Line(
            x1=frame.x_of(x1), y1=frame.y_of(y1), x2=frame.x_of(x2), y2=frame.y_of(y2), ink="soft"
        )
    for hours, above_c, judged in measured:
        x_mm, y_mm = frame.x_of(hours), frame.y_of(above_c)
        if judged is Word.CALM:
            yield Disc(x=x_mm, y=y_mm, radius=1.1)
        else:
            yield Disc(x=x_mm, y=y_mm, radius=1.8, form="octagon", ink="no")


def watch_picture(
    start: datetime, checks: Sequence[Check], *, limit_c: float, title: str
) -> Picture | None:
    """Draw the hottest point above the air around over the time of the watch.

    Parameters
    ----------
    start : datetime
        When the watch was started.
    checks : Sequence[Check]
        Its checks, oldest first; corrected ones and those without figures are left out.
    limit_c : float
        How far above the air a point may stand [K].
    title : str
        Title, in the reader's language.

    Returns
    -------
    Picture | None
        None while nothing was measured. Calm checks are discs, others octagons.
    """
    measured = [
        ((check.at - start).total_seconds() / 3600.0, check.above_ambient_c, check.word)
        for check in in_force(checks)
        if check.above_ambient_c is not None
    ]
    if not measured:
        return None
    above = [above_c for _, above_c, _ in measured]
    frame = _Frame(
        span_h=max(1.0, *(hours for hours, _, _ in measured)),
        low_c=min(0.0, *above) - 1.0,
        high_c=max(limit_c, *above) + 2.0,
    )
    shapes = (
        *_rungs(frame),
        *_times(frame),
        *_limit(frame, limit_c),
        *_course(frame, measured),
    )
    span, most = _hours(frame.span_h), f"{max(above):.1f} K"
    described = word(
        "{count} checks in {span}; at most {most} above the air around.",
        count=len(measured),
        span=span,
        most=most,
    )
    return Picture(
        width_mm=_WIDTH, height_mm=_HEIGHT, title=title, description=described, shapes=shapes
    )
