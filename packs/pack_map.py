"""The pack map: the modules where they lie in the enclosure, as a picture. No Django."""

from collections.abc import Mapping

from packs.definition import PackDefinition
from packs.picture import Ink, Label, Line, Picture, Rect, Shape
from packs.words import word

SHOWN_FROM = 0.01
"""Probability from which a module is marked [0 to 1]."""


_CELL_W, _CELL_H, _GAP, _EDGE = 11.0, 15.0, 1.6, 3.0
_LEGEND_W, _LINE_H = 70.0, 3.6
"""Both lines of the legend stand side by side from this width on; height of a line [mm]."""
SURE_FROM = 0.995
"""Probability from which rounding would claim certainty [0 to 1]."""


def share_words(share: float) -> str:
    """Write a probability; never as certain, which no reading makes it.

    Parameters
    ----------
    share : float
        Probability [0 to 1].

    Returns
    -------
    str
        Whole percent, or that it is over 99.

    Examples
    --------
    >>> share_words(0.61), share_words(0.9996)
    ('61%', '>99%')
    """
    return ">99%" if share >= SURE_FROM else f"{share:.0%}"


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
            Label(
                x=x_mm + _CELL_W / 2,
                y=y_mm + 11.6,
                text=share_words(share),
                ink="petrol",
                bold=True,
            )
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
    title: str = "",
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
        Title spoken by a screen reader; "Pack map" where empty.

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
        height_mm=height_mm + (6.0 if width_mm >= _LEGEND_W else 6.0 + _LINE_H),
        title=title or word("Pack map"),
        description=_spoken(pack, shown, replaced),
        shapes=(*shapes, *_disconnect_shape(pack), *_legend(pack, width_mm, height_mm + 4.0)),
    )


def _spoken(pack: PackDefinition, shown: Mapping[str, float], replaced: tuple[str, ...]) -> str:
    leaks = ", ".join(f"{name} {share_words(share)}" for name, share in shown.items())
    if replaced:
        marked = word("Replaced: {names}.", names=", ".join(replaced))
    else:
        marked = word("Leaks: {names}.", names=leaks) if leaks else word("None marked.")
    return f"{word('{count} modules.', count=len(pack.modules))} {marked}"


def _legend(pack: PackDefinition, width_mm: float, y_mm: float) -> list[Label]:
    front = Label(
        x=0.5, y=y_mm, text=word("front at the left"), size=2.8, anchor="start", ink="soft"
    )
    if pack.disconnect.after_module is None:
        return [front]
    words = word("bar: service disconnect")
    below_mm = y_mm if width_mm >= _LEGEND_W else y_mm + _LINE_H
    return [front, Label(x=width_mm, y=below_mm, text=words, size=2.8, anchor="end", ink="soft")]
