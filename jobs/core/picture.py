"""Pictures of a job as data: isolation before and after the repair, joints on their lanes."""

import math
from collections.abc import Callable, Sequence
from typing import Literal

from packs.picture import Disc, Ink, Label, Line, Picture, Shape
from packs.words import word

_LINE_W, _LINE_Y, _DECADES = 96.0, 20.0, (1, 6)


def _log_x(ohm_per_v: float) -> float:
    low, high = _DECADES
    decade = min(max(math.log10(max(ohm_per_v, 1e-9)), low), high)
    return 6.0 + (decade - low) / (high - low) * (_LINE_W - 12.0)


def _grouped(ohm_per_v: float) -> str:
    """Write a figure to three digits, thousands apart."""
    return f"{float(f'{ohm_per_v:.3g}'):,.0f}".replace(",", "\u202f")


Anchor = Literal["start", "middle", "end"]
_LETTER_W, _CLEAR = 1.9, 1.5
"""Widest a letter of a label is on average, and what stays free beside the limit [mm]."""


def _label_at(x_mm: float, width_mm: float, x_limit: float) -> tuple[float, Anchor]:
    """Give where a mark's words stand, so that the line of the limit does not cross them."""
    beside = abs(x_mm - x_limit) < width_mm / 2 + _CLEAR
    if beside and x_mm >= x_limit:
        return x_limit + _CLEAR, "start"
    if beside and x_limit - _CLEAR >= width_mm:
        return x_limit - _CLEAR, "end"
    if x_mm > _LINE_W - 20:
        return x_mm, "end"
    return x_mm, "start" if x_mm < 16 else "middle"  # noqa: PLR2004


def _mark(
    ohm_per_v: float, when: str, form: Literal["disc", "octagon"], ink: Ink, x_limit: float
) -> list[Shape]:
    x_mm, words = _log_x(ohm_per_v), f"{when}: {_grouped(ohm_per_v)}"
    at_mm, anchor = _label_at(x_mm, _LETTER_W * len(words), x_limit)
    return [
        Disc(x=x_mm, y=_LINE_Y - 6, radius=1.8, form=form, ink=ink),
        Label(x=at_mm, y=_LINE_Y - 10, text=words, anchor=anchor, bold=form == "disc"),
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
    limit = word("limit {value} ohm per volt", value=_grouped(limit_ohm_per_v))
    shapes.append(Label(x=x_limit + 1, y=4, text=limit, size=2.8, anchor="start", ink="soft"))
    spoken = [limit]
    for value, when in ((before_ohm_per_v, word("before")), (after_ohm_per_v, word("after"))):
        if value is None:
            continue
        passed = value >= limit_ohm_per_v
        form: Literal["disc", "octagon"] = "disc" if passed else "octagon"
        shapes += _mark(value, when, form, "petrol" if passed else "ink", x_limit)
        spoken.append(word("{when} {value:.0f} ohm per volt", when=when, value=value))
    return Picture(
        width_mm=_LINE_W,
        height_mm=28.0,
        title=word("Isolation before and after"),
        description=", ".join(spoken) + ".",
        shapes=tuple(shapes),
    )


Joint = tuple[str, float, float, float, bool]
"""Position, resistance with its interval [micro ohm], and whether it stands out."""


def _lane(
    joint: Joint, y_mm: float, x_of: Callable[[float], float], ends: tuple[float, float]
) -> list[Shape]:
    name, got, least, top, out = joint
    left, right = ends
    return [
        Line(x1=left, y1=y_mm, x2=right, y2=y_mm, ink="line", width=0.2),
        Line(x1=x_of(least), y1=y_mm, x2=x_of(top), y2=y_mm, width=0.8),
        Disc(
            x=x_of(got),
            y=y_mm,
            radius=1.7,
            form="octagon" if out else "disc",
            ink="no" if out else "petrol",
        ),
        Label(x=left - 2, y=y_mm + 1.1, text=name, size=2.9, anchor="end", bold=out),
        Label(x=right + 1.5, y=y_mm + 1.1, text=f"{got:.1f}", size=2.9, anchor="start", bold=out),
    ]


def joint_lanes(
    joints: Sequence[Joint],
    *,
    median_micro_ohm: float,
    limit_micro_ohm: float,
) -> Picture:
    """Draw each joint on a lane of its own, with its interval, the median and the limit.

    Parameters
    ----------
    joints : Sequence[Joint]
        In the order of the lanes.
    median_micro_ohm, limit_micro_ohm : float
        Median of all joints, and the limit [micro ohm].

    Returns
    -------
    Picture
        From zero at the left; a disc keeps the limit, an octagon does not.
    """
    most = 1.08 * max(limit_micro_ohm, *(high for _, _, _, high, _ in joints))
    left, right, lane = 22.0, _LINE_W - 16.0, 6.0
    low = 9.0 + lane * len(joints)

    def x_of(micro_ohm: float) -> float:
        return left + max(micro_ohm, 0.0) / most * (right - left)

    shapes: list[Shape] = []
    for value, name, dashed in (
        (median_micro_ohm, word("median"), False),
        (limit_micro_ohm, word("limit"), True),
    ):
        x_mm = x_of(value)
        shapes.append(Line(x1=x_mm, y1=5.0, x2=x_mm, y2=low - 3.0, ink="soft", dashed=dashed))
        at = 3.6 if dashed else low
        words = f"{name} {value:.1f} µΩ"
        shapes.append(Label(x=x_mm, y=at, text=words, size=2.8, ink="soft"))
    for place, joint in enumerate(joints):
        shapes += _lane(joint, 8.5 + lane * place, x_of, (left, right))
    out_names = [f"{name} {got:.1f}" for name, got, _, _, out in joints if out]
    odd = word("Stands out: {names}", names=", ".join(out_names))
    said = word(
        "{said}; median {median:.1f}, limit {limit:.1f} micro ohm.",
        said=odd if out_names else word("None stands out"),
        median=median_micro_ohm,
        limit=limit_micro_ohm,
    )
    return Picture(
        width_mm=_LINE_W,
        height_mm=low + 2.0,
        title=word("Joints in micro ohm"),
        description=said,
        shapes=tuple(shapes),
    )
