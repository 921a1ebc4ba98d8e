"""Pictures of a seal test: pressure lost in two layers with the temperature, leak against limit.

Here: drawing only. Not here: the leak itself (`packs.physics.leak`). No Django.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from packs.physics.leak import PressureSample
from packs.picture import Disc, Ink, Label, Line, Picture, Rect, Shape, Stroke
from packs.words import pressure, word

__all__ = ["decay_strip", "leak_line"]

_WIDTH_MM, _LEFT_MM, _RIGHT_MM = 88.0, 14.0, 86.0
_TOP_MM, _LOW_MM, _TEMP_TOP_MM, _TEMP_LOW_MM, _HEIGHT_MM = 9.0, 36.0, 45.0, 53.0, 60.0
_POINTS, _SLICES = 30, 60
_LEAST_SPAN_PA = 40.0
"""The strip's own scale is never finer than this, so that the gauge's noise stays flat [Pa]."""
_KELVIN, _HAIR_MM = 273.15, 0.05
_LEAST_SPAN_C = 0.5
"""The temperature's own scale is never finer than this, so that noise stays flat [degC]."""


@dataclass(frozen=True, slots=True)
class _Lost:
    """Pressure lost since the first sample [Pa], the part temperature explains, temperature."""

    t_s: float
    raw_pa: float
    explained_pa: float
    temp_c: float


def _lost(samples: Sequence[PressureSample]) -> list[_Lost]:
    """Give what was lost at each sample; of a long series only some."""
    first = samples[0]
    start_pa, start_k = first.gauge_pa + (first.barometer_pa or 0.0), first.temp_c + _KELVIN
    every = max(1, len(samples) // _POINTS)
    return [
        _Lost(
            one.t_s - first.t_s,
            start_pa - one.gauge_pa - (one.barometer_pa or 0.0),
            start_pa * (1.0 - (one.temp_c + _KELVIN) / start_k),
            one.temp_c,
        )
        for one in (*samples[:-1:every], samples[-1])
    ]


class _Scale:
    """Seconds and values to millimetres, between two heights."""

    def __init__(
        self, values: Sequence[float], last_s: float, top_mm: float, low_mm: float
    ) -> None:
        self.least, self.most = min(values), max(values)
        self.last_s, self.top_mm, self.low_mm = last_s, top_mm, low_mm

    def x_mm(self, t_s: float) -> float:
        return _LEFT_MM + t_s / self.last_s * (_RIGHT_MM - _LEFT_MM)

    def y_mm(self, value: float) -> float:
        share = (value - self.least) / (self.most - self.least)
        return self.top_mm + share * (self.low_mm - self.top_mm)


def _layer(
    scale: _Scale, lost: Sequence[_Lost], ends: Sequence[tuple[float, float]], ink: Ink
) -> list[Shape]:
    """Fill the space between two lines, step by step."""
    shapes: list[Shape] = []
    parts = max(1, _SLICES // max(1, len(lost) - 1))
    for (one, after), (near, far) in zip(pairwise(lost), pairwise(ends), strict=True):
        width = (scale.x_mm(after.t_s) - scale.x_mm(one.t_s)) / parts
        for part in range(parts):
            share = (part + 0.5) / parts
            edges = (a + share * (b - a) for a, b in zip(near, far, strict=True))
            top_mm, low_mm = sorted(scale.y_mm(edge) for edge in edges)
            x_mm = scale.x_mm(one.t_s) + part * width
            if low_mm - top_mm > _HAIR_MM:
                shapes.append(
                    Rect(x=x_mm, y=top_mm, width=width, height=low_mm - top_mm, ink=ink,
                         fill=ink, stroke=0.05)
                )  # fmt: skip
    return shapes


def _temperature(lost: Sequence[_Lost], last_s: float) -> list[Shape]:
    """Draw the temperature apart, on a scale of its own: warmer is higher."""
    temps_c = [one.temp_c for one in lost]
    middle = (min(temps_c) + max(temps_c)) / 2
    half = max(_LEAST_SPAN_C, max(temps_c) - min(temps_c)) / 2
    scale = _Scale((-middle - half, -middle + half), last_s, _TEMP_TOP_MM, _TEMP_LOW_MM)
    points = tuple((scale.x_mm(one.t_s), scale.y_mm(-one.temp_c)) for one in lost)
    last_mm = points[-1][1] - 1.5
    first = f"{temps_c[0]:.1f} °C"
    return [
        Stroke(points=points, ink="soft", width=0.6),
        Label(x=_LEFT_MM - 1.5, y=points[0][1] + 1.0, text=first, size=3.4, anchor="end",
              ink="soft"),
        Label(x=_RIGHT_MM, y=last_mm, text=f"{temps_c[-1]:.1f} °C", size=3.4, anchor="end"),
        Label(x=_LEFT_MM, y=_TEMP_LOW_MM + 5, text=word("gas temperature"), size=3.4,
              anchor="start", ink="soft"),
    ]  # fmt: skip


def _legend(raw_pa: float, explained_pa: float) -> list[Shape]:
    rest_pa = raw_pa - explained_pa
    return [
        Rect(x=1.0, y=1.6, width=4, height=3, ink="soft", fill="line", stroke=0.2),
        Label(x=6.0, y=4.2, text=word("temperature {lost}", lost=pressure(explained_pa)), size=3.5,
              anchor="start"),
        Rect(x=_LEFT_MM + 34, y=1.6, width=4, height=3, ink="petrol", fill="petrol", stroke=0.2),
        Label(x=_LEFT_MM + 39, y=4.2, text=word("not explained {lost}", lost=pressure(rest_pa)),
              size=3.5, anchor="start"),
    ]  # fmt: skip


def _spoken(lost: Sequence[_Lost]) -> str:
    last = lost[-1]
    return word(
        "Over {s:.0f} s, pressure lost {lost}, of this explained by temperature "
        "{explained}; gas from {first:.1f} to {last:.1f} °C.",
        s=max(last.t_s, 1.0),
        lost=pressure(last.raw_pa),
        explained=pressure(last.explained_pa),
        first=lost[0].temp_c,
        last=last.temp_c,
    )


def decay_strip(samples: Sequence[PressureSample]) -> Picture:
    """Draw the pressure lost over time in two layers: explained by temperature, and not.

    Parameters
    ----------
    samples : Sequence[PressureSample]
        At least two, times rising [s, Pa, degC].

    Returns
    -------
    Picture
        Downwards is pressure lost [Pa]; the gas temperature stands apart below it [degC].
    """
    lost = _lost(samples)
    last_s = max(lost[-1].t_s, 1.0)
    values = [0.0, *(v for one in lost for v in (one.raw_pa, one.explained_pa))]
    short_pa = max(0.0, _LEAST_SPAN_PA - max(values) + min(values))
    values += [min(values) - short_pa / 4, max(values) + 3 * short_pa / 4]
    scale = _Scale(values, last_s, _TOP_MM, _LOW_MM)
    zero = scale.y_mm(0.0)
    raw_line = tuple((scale.x_mm(one.t_s), scale.y_mm(one.raw_pa)) for one in lost)
    last = lost[-1]
    shapes: list[Shape] = [
        *_layer(scale, lost, [(0.0, one.explained_pa) for one in lost], "line"),
        *_layer(scale, lost, [(one.explained_pa, one.raw_pa) for one in lost], "petrol"),
        Line(x1=_LEFT_MM, y1=zero, x2=_RIGHT_MM, y2=zero, ink="ink", width=0.3),
        Stroke(points=raw_line, ink="ink", width=0.6),
        *(Disc(x=x, y=y, radius=0.8, ink="ink") for x, y in raw_line),
        Label(
            x=_LEFT_MM - 1.5, y=zero + 1.0, text=pressure(0.0), size=3.4, anchor="end", ink="soft"
        ),
        Label(x=_RIGHT_MM, y=_LOW_MM + 4.5, text=f"{last_s:.0f} s", size=3.4, anchor="end"),
        *_legend(last.raw_pa, last.explained_pa),
        *_temperature(lost, last_s),
    ]
    low = scale.y_mm(last.raw_pa)
    if abs(low - zero) > 4.0:  # noqa: PLR2004 - two labels closer than this lie on one another [mm]
        text = pressure(last.raw_pa).replace("-", "\u2212")
        label = Label(x=_LEFT_MM - 1.5, y=low + 1.0, text=text, size=3.4, anchor="end", bold=True)
        shapes.append(label)
    return Picture(
        width_mm=_WIDTH_MM,
        height_mm=_HEIGHT_MM,
        title=word("Decay strip"),
        description=_spoken(lost),
        shapes=tuple(shapes),
    )


def leak_line(
    leak_ml_per_min: float, low_ml_per_min: float, high_ml_per_min: float, limit_ml_per_min: float
) -> Picture:
    """Draw the leak with its interval against the limit.

    Parameters
    ----------
    leak_ml_per_min, low_ml_per_min, high_ml_per_min : float
        The leak and its 95 % interval [ml/min].
    limit_ml_per_min : float
        The limit [ml/min].

    Returns
    -------
    Picture
        A line from zero; what lies beyond its ends stands at them.
    """
    most = max(2.0 * limit_ml_per_min, min(high_ml_per_min, 4.0 * limit_ml_per_min), 1e-9)
    least = min(0.0, max(low_ml_per_min, -most))

    def x_mm(value: float) -> float:
        share = (min(max(value, least), most) - least) / (most - least)
        return 4.0 + share * (_RIGHT_MM - 6.0)

    low, high = x_mm(low_ml_per_min), x_mm(high_ml_per_min)
    limit, line_mm = x_mm(limit_ml_per_min), 11.0
    words = f"{leak_ml_per_min:.3g} ml/min".replace("-", "\u2212")
    near_end = "end" if x_mm(leak_ml_per_min) > _RIGHT_MM - 20 else "start"
    return Picture(
        width_mm=_WIDTH_MM,
        height_mm=20.0,
        title=word("Leak against its limit"),
        description=word(
            "Leak {leak:.3g} ml/min, between {low:.3g} and {high:.3g}; limit {limit:.3g}.",
            leak=leak_ml_per_min,
            low=low_ml_per_min,
            high=high_ml_per_min,
            limit=limit_ml_per_min,
        ),
        shapes=(
            Line(x1=4.0, y1=line_mm, x2=_RIGHT_MM, y2=line_mm, width=0.4),
            Line(x1=x_mm(0.0), y1=line_mm - 1.5, x2=x_mm(0.0), y2=line_mm + 1.5),
            Label(x=x_mm(0.0), y=line_mm + 6, text="0", size=3.4, ink="soft"),
            Rect(x=low, y=line_mm - 2.2, width=max(0.5, high - low), height=4.4, ink="soft",
                 fill="line", stroke=0.2),
            Disc(x=x_mm(leak_ml_per_min), y=line_mm, radius=1.3, ink="petrol"),
            Line(x1=limit, y1=line_mm - 5, x2=limit, y2=line_mm + 3, dashed=True, width=0.6),
            Label(x=limit, y=line_mm + 7, size=3.5,
                  text=word("limit {value:.3g}", value=limit_ml_per_min)),
            Label(x=x_mm(leak_ml_per_min), y=line_mm - 4, text=words, size=3.5, bold=True,
                  anchor="end" if near_end == "end" else "start"),
        ),
    )  # fmt: skip
