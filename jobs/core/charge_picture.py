"""The move of charge as a picture: the planned voltage at the terminals, and what was read."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from jobs.core.charge_watch import ChargePlan, Course, Reading
from packs.picture import Disc, Label, Line, Picture, Shape, Stroke
from packs.words import word

__all__ = ["charge_picture"]

_WIDTH, _HEIGHT = 120.0, 56.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 18.0, 116.0, 7.0, 45.0
_STEPS_H = (1 / 12, 1 / 6, 0.25, 0.5, 1.0, 2.0, 4.0, 6.0, 12.0, 24.0, 48.0)
_MOST_TICKS = 6
_NEAR_MM = 4.0
"""Two labels closer than this lie on one another [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    span_h: float
    low_v: float
    high_v: float

    def x_of(self, hours: float) -> float:
        """Give the place of a time [mm]."""
        return _LEFT + max(0.0, hours) / self.span_h * (_RIGHT - _LEFT)

    def y_of(self, volts: float) -> float:
        """Give the place of a voltage [mm]."""
        share = (volts - self.low_v) / (self.high_v - self.low_v)
        return _BOTTOM - share * (_BOTTOM - _TOP)


def _clock(hours: float) -> str:
    minutes = round(hours * 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60}:{minutes % 60:02d} h"  # noqa: PLR2004


def _frame(plan: ChargePlan, readings: Sequence[Reading], now_h: float) -> _Frame:
    volts = [*plan.terminal_v, plan.stop_v, *(each.terminal_v for each in readings)]
    pad_v = max(0.02, 0.08 * (max(volts) - min(volts)), plan.allowed_v / 2)
    last_h = max((each.hours for each in readings), default=0.0)
    return _Frame(
        span_h=max(plan.whole_h, last_h, now_h, 1 / 60) * 1.04,
        low_v=min(volts) - pad_v,
        high_v=max(volts) + pad_v,
    )


def _axes(frame: _Frame, plan: ChargePlan) -> Iterator[Shape]:
    """Draw time below and the voltage of the start at the left."""
    yield Line(x1=_LEFT, y1=_TOP, x2=_LEFT, y2=_BOTTOM, ink="line")
    yield Line(x1=_LEFT, y1=_BOTTOM, x2=_RIGHT, y2=_BOTTOM, ink="line")
    step_h = next((each for each in _STEPS_H if frame.span_h / each <= _MOST_TICKS), frame.span_h)
    for mark in range(int(frame.span_h / step_h + 1e-9) + 1):
        x_mm, words = (
            frame.x_of(mark * step_h),
            word("start") if mark == 0 else _clock(mark * step_h),
        )
        yield Line(x1=x_mm, y1=_BOTTOM, x2=x_mm, y2=_BOTTOM + 1.2, ink="soft")
        yield Label(x=x_mm, y=_BOTTOM + 5.0, text=words, size=3.4, ink="soft")
    start_mm, stop_mm = frame.y_of(plan.terminal_v[0]), frame.y_of(plan.stop_v)
    if abs(start_mm - stop_mm) > _NEAR_MM:
        words = f"{plan.terminal_v[0]:.2f} V"
        yield Label(x=_LEFT - 1.5, y=start_mm + 1.1, text=words, size=3.4, anchor="end", ink="soft")


def _stop(frame: _Frame, plan: ChargePlan) -> Iterator[Shape]:
    y_mm = frame.y_of(plan.stop_v)
    yield Line(x1=_LEFT, y1=y_mm, x2=_RIGHT, y2=y_mm, ink="no", dashed=True, width=0.6)
    yield Label(x=_LEFT - 1.5, y=y_mm + 1.1, text=f"{plan.stop_v:.2f} V", size=3.4, anchor="end",
                ink="no", bold=True)  # fmt: skip
    yield Label(x=_LEFT + 2.0, y=y_mm - 1.4, text=word("stop here, current flowing"), size=3.4,
                anchor="start", ink="no")  # fmt: skip


def _read(frame: _Frame, readings: Sequence[Reading], course: Course) -> Iterator[Shape]:
    """Draw the readings: on the plan as rings, off it larger and with corners."""
    for each, is_off in zip(readings, course.off, strict=True):
        x_mm, y_mm = frame.x_of(each.hours), frame.y_of(each.terminal_v)
        if is_off:
            yield Disc(x=x_mm, y=y_mm, radius=1.9, form="octagon", ink="no")
        else:
            yield Disc(x=x_mm, y=y_mm, radius=1.3, ink="ink")


def charge_picture(
    plan: ChargePlan, readings: Sequence[Reading], course: Course, *, now_h: float, title: str
) -> Picture:
    """Draw a move of charge against its plan.

    Parameters
    ----------
    plan : ChargePlan
        What the terminals should show over time.
    readings : Sequence[Reading]
        What they showed [h] and [V].
    course : Course
        The judgement of the readings.
    now_h : float
        Hours since the first reading; the time left counts from there [h].
    title : str
        Title of the picture.

    Returns
    -------
    Picture
        The planned line, the readings, the voltage at which to stop, and the time left.
    """
    frame = _frame(plan, readings, now_h if readings else 0.0)
    points = zip(plan.hours, plan.terminal_v, strict=True)
    line = tuple((frame.x_of(hours), frame.y_of(volts)) for hours, volts in points)
    shapes: list[Shape] = [*_axes(frame, plan), Stroke(points=line, ink="petrol", width=0.8)]
    shapes += [*_stop(frame, plan), *_read(frame, readings, course)]
    left = (
        word("stop now")
        if course.stop
        else word("{time} left by the plan", time=_clock(course.left_h))
    )
    words = left if readings else word("planned: {time}", time=_clock(plan.whole_h))
    shapes.append(Label(x=_RIGHT, y=4.2, text=words, size=3.6, anchor="end", bold=True))
    last = word(", the last {v:.2f} V", v=readings[-1].terminal_v) if readings else ""
    off = sum(course.off)
    return Picture(
        width_mm=_WIDTH,
        height_mm=_HEIGHT,
        title=title,
        description=word(
            "From {first:.2f} V to {stop:.2f} V at the terminals in {time}. "
            "{count} readings{last}; {off} off the plan; {words}.",
            first=plan.terminal_v[0],
            stop=plan.stop_v,
            time=_clock(plan.whole_h),
            count=len(readings),
            last=last,
            off=off,
            words=words,
        ),
        shapes=tuple(shapes),
    )
