"""The settling curve: readings over time, the fitted line, the end value as a band. No Django.

Not here: the fit (`packs.physics.decay`).
"""

import math
from collections.abc import Sequence

from packs.physics.decay import DecayResult, Sample
from packs.picture import Disc, Label, Line, Picture, Rect, Shape, Stroke
from packs.words import word

__all__ = ["settling_curve"]

_WIDTH_MM, _HEIGHT_MM, _LEFT_MM, _RIGHT_MM, _TOP_MM, _LOW_MM = 120.0, 50.0, 17.0, 116.0, 5.0, 42.0
_STEPS = 40
_LEAST_V = 0.05
_WORDS = {"floating": "settles to nothing", "standing": "stands", "undecided": "undecided"}


class _Frame:
    """Seconds and volts to millimetres."""

    def __init__(self, samples: Sequence[Sample], found: DecayResult | None) -> None:
        shown = [one.v for one in samples] + [0.0]
        if found is not None:
            edges = (found.end_v_low, found.end_v_high)
            reach = 2.0 * (max(shown) - min(shown)) + _LEAST_V
            shown += [max(-reach, min(reach, edge)) for edge in edges if math.isfinite(edge)]
        pad = max(_LEAST_V, 0.06 * (max(shown) - min(shown)))
        self.low_v, self.high_v = min(shown) - pad, max(shown) + pad
        self.first_s = samples[0].t_s
        self.span_s = max(1.0, samples[-1].t_s - self.first_s) * 1.15

    def x_mm(self, t_s: float) -> float:
        return _LEFT_MM + (t_s - self.first_s) / self.span_s * (_RIGHT_MM - _LEFT_MM)

    def y_mm(self, volts: float) -> float:
        share = (self.high_v - volts) / (self.high_v - self.low_v)
        return _TOP_MM + min(1.0, max(0.0, share)) * (_LOW_MM - _TOP_MM)


def _fitted(frame: _Frame, samples: Sequence[Sample], found: DecayResult) -> Stroke:
    """Draw the line of the fit through the readings; a flat one where nothing moves."""
    tau_s, end_v = found.tau_s, found.end_v
    step_v = 0.0
    if tau_s is not None:
        fades = [math.exp(-(one.t_s - frame.first_s) / tau_s) for one in samples]
        above = [one.v - end_v for one in samples]
        step_v = sum(a * f for a, f in zip(above, fades, strict=True)) / sum(f * f for f in fades)
    times_s = [frame.first_s + frame.span_s * step / _STEPS for step in range(_STEPS + 1)]
    return Stroke(
        points=tuple(
            (
                frame.x_mm(t_s),
                frame.y_mm(end_v + step_v * math.exp(-(t_s - frame.first_s) / tau_s))
                if tau_s is not None
                else frame.y_mm(end_v),
            )
            for t_s in times_s
        ),
        ink="petrol",
        width=0.6,
    )


def _band(frame: _Frame, found: DecayResult) -> list[Shape]:
    """Draw the end value with its interval."""
    top_mm, low_mm = frame.y_mm(found.end_v_high), frame.y_mm(found.end_v_low)
    end_mm = frame.y_mm(found.end_v)
    return [
        Rect(x=_LEFT_MM, y=top_mm, width=_RIGHT_MM - _LEFT_MM, height=max(0.6, low_mm - top_mm),
             ink="line", fill="line", stroke=0.1),
        Line(x1=_LEFT_MM, y1=end_mm, x2=_RIGHT_MM, y2=end_mm, ink="soft", dashed=True),
    ]  # fmt: skip


def settling_curve(samples: Sequence[Sample], found: DecayResult | None) -> Picture:
    """Draw how a reading settles.

    Parameters
    ----------
    samples : Sequence[Sample]
        At least one reading, times rising [s] and [V].
    found : DecayResult | None
        The fit; None while there are too few readings for one.

    Returns
    -------
    Picture
        Points, the fitted line, the end value as a band, zero as a line.
    """
    frame = _Frame(samples, found)
    zero_mm, last = frame.y_mm(0.0), samples[-1]
    shapes: list[Shape] = [] if found is None else _band(frame, found)
    shapes += [
        Line(x1=_LEFT_MM, y1=zero_mm, x2=_RIGHT_MM, y2=zero_mm, ink="ink", width=0.3),
        Label(x=_LEFT_MM - 1.5, y=zero_mm + 1.2, text="0 V", size=3.4, anchor="end", ink="soft"),
    ]
    if found is not None:
        shapes.append(_fitted(frame, samples, found))
        end = f"{found.end_v:.4g} V"
        apart = abs(frame.y_mm(found.end_v) - zero_mm)
        if apart > 4.0:  # noqa: PLR2004 - two labels closer than this lie on one another [mm]
            y_mm = frame.y_mm(found.end_v) + 1.2
            shapes.append(Label(x=_LEFT_MM - 1.5, y=y_mm, text=end, size=3.4, anchor="end"))
    shapes += [
        Disc(x=frame.x_mm(one.t_s), y=frame.y_mm(one.v), radius=1.1, form="ring") for one in samples
    ]
    seconds = f"{last.t_s - frame.first_s:.0f} s"
    x_mm = frame.x_mm(last.t_s)
    shapes.append(Label(x=x_mm, y=_LOW_MM + 5.0, text=seconds, size=3.4, ink="soft"))
    said = word(
        "{count} readings over {lasted}, the last {last:.4g} V",
        count=len(samples),
        lasted=seconds,
        last=last.v,
    )
    if found is not None:
        said += "; " + word(
            "{kind}, end value {end:.3g} V ({low:.3g} to {high:.3g})",
            kind=word(_WORDS[found.kind]),
            end=found.end_v,
            low=found.end_v_low,
            high=found.end_v_high,
        )
    return Picture(
        width_mm=_WIDTH_MM, height_mm=_HEIGHT_MM, title=word("Settling curve"),
        description=f"{said}.", shapes=tuple(shapes),
    )  # fmt: skip
