"""A torque list as it is worked: stage by stage, bolt by bolt, in its pattern, with a drawing.

Here: what a list asks now, the order of the bolts, what has to be done before a stage, and the
sheet that the page shows. Not here: what the values say (`jobs.core.torque`).
"""

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Literal

from jobs.core.item import Item, qualifier_of, qualifier_parts
from jobs.core.reason import Blocker, Param
from jobs.core.record import Record
from jobs.core.snapshot import Clicked
from jobs.core.torque import (
    TORQUE_STAGE_WAITS,
    TORQUE_TOOL_FIRST,
    TORQUE_TOOL_LAPSED,
    TORQUE_TOOL_RANGE,
    TorqueCheck,
    TorqueItems,
    TorqueStageCheck,
    check_torque,
)
from jobs.core.torque_entered import overtaken
from packs.definition import TorqueList
from packs.picture import Disc, Label, Line, Picture, Rect, Shape
from packs.words import word

__all__ = ["Bolt", "TorqueSheet", "asked_torque", "in_pattern"]

_WORDS = {"crosswise": "crosswise", "in_order": "in order", "outward": "from the middle out"}
BoltState = Literal["open", "next", "done", "off", "extra"]
_ROW, _PITCH_MM, _LINE_MM, _WIDTH_MM = 7, 13.5, 14.0, 96.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bolt:
    """One bolt of a stage: its number in the pattern, and how it stands.

    Attributes
    ----------
    name : str
        Position as the definition names it.
    number : int
        Its turn in this stage; 0 for a bolt that was not undone.
    state : str
        "next", "open", "done", "off" (out of tolerance), "extra" (was not undone).
    got_nm : float | None
        What was entered [Nm].
    clicked : bool
        Whether the tool clicked instead of showing a figure.
    again : bool
        Whether it was entered here before and tightened again at an earlier stage since.
    """

    name: str
    number: int
    state: BoltState
    got_nm: float | None = None
    clicked: bool = False
    again: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueSheet:
    """One stage of a list as the page shows it; torque in [Nm]."""

    title: str
    stage: int
    stages: int
    pattern: str
    target_nm: float
    low_nm: float
    high_nm: float
    tolerance_percent: float
    limit_kind: str
    limit_source: str
    tool: str
    bolts: tuple[Bolt, ...]
    picture: Picture

    @property
    def next(self) -> Bolt | None:
        """The bolt whose turn it is; None when every one has a value."""
        return next((bolt for bolt in self.bolts if bolt.state == "next"), None)

    @property
    def done(self) -> int:
        """How many bolts are within their tolerance."""
        return sum(bolt.state == "done" for bolt in self.bolts)

    @property
    def asked(self) -> int:
        """How many bolts have a turn in this stage."""
        return sum(bolt.number > 0 for bolt in self.bolts)


def _crosswise(count: int) -> list[int]:
    """Give pairs that lie opposite, each pair as far as it can be from those before it."""
    half = (count + 1) // 2
    left, chosen = list(range(half)), list[int]()
    while left:

        def apart(start: int) -> int:
            gaps = [abs(start - other) for other in chosen]
            return min((min(gap, half - gap) for gap in gaps), default=half)

        best = max(left, key=lambda start: (apart(start), -start))
        left.remove(best)
        chosen.append(best)
    pairs = ((start, start + half) for start in chosen)
    return [place for pair in pairs for place in pair if place < count]


def in_pattern(rows: Sequence[str], pattern: str) -> tuple[str, ...]:
    """Put bolts into the order in which they are tightened.

    Parameters
    ----------
    rows : Sequence[str]
        The bolts as the definition lists them: along the row, or round the joint.
    pattern : str
        "crosswise" (opposite ones, as far apart as they go), "outward" (from the middle of the
        list to both ends) or "in_order".

    Returns
    -------
    tuple[str, ...]
        The same bolts in their turn.

    Examples
    --------
    >>> in_pattern(["T1", "T2", "T3", "T4"], "crosswise")
    ('T1', 'T3', 'T2', 'T4')
    >>> in_pattern(["L1", "L2", "L3", "L4", "L5"], "outward")
    ('L3', 'L2', 'L4', 'L1', 'L5')
    """
    count = len(rows)
    if pattern == "crosswise":
        return tuple(rows[place] for place in _crosswise(count))
    if pattern == "outward":
        middle = (count - 1) / 2
        return tuple(rows[i] for i in sorted(range(count), key=lambda i: (abs(i - middle), i)))
    return tuple(rows)


def _round(count: int) -> tuple[list[tuple[float, float]], float]:
    """Place bolts clockwise round a joint, the first at the upper left; gives places and height."""
    across_mm, high_mm = (_WIDTH_MM - 22.0) / 2, 16.0 if count <= 6 else 24.0  # noqa: PLR2004
    angles = [math.radians(-135.0 + 360.0 * place / count) for place in range(count)]
    return [
        (_WIDTH_MM / 2 + across_mm * math.cos(a), high_mm + 7.0 + high_mm * math.sin(a))
        for a in angles
    ], 2 * high_mm + 18.0


def _in_rows(count: int) -> tuple[list[tuple[float, float]], float]:
    """Place bolts in rows, as a list is read; gives places and height."""
    lines = math.ceil(count / _ROW)
    places = [(7.5 + i % _ROW * _PITCH_MM, 7.0 + i // _ROW * _LINE_MM) for i in range(count)]
    return places, lines * _LINE_MM + 2.0


def _drawn(bolt: Bolt, x_mm: float, y_mm: float) -> list[Shape]:
    name = Label(x=x_mm, y=y_mm + 8.2, text=bolt.name, size=3.0, bold=bolt.state == "next")
    number = str(bolt.number)
    if bolt.state == "extra":
        return [
            Disc(x=x_mm, y=y_mm, radius=1.6, form="ring", ink="line"),
            replace(name, ink="soft"),
        ]
    mark: list[Shape]
    if bolt.state == "done":
        mark = [Disc(x=x_mm, y=y_mm, radius=4.2, ink="petrol")]
    elif bolt.state == "off":
        mark = [Disc(x=x_mm, y=y_mm, radius=4.8, form="octagon", ink="no")]
    else:
        ink: Literal["petrol", "ink"] = "petrol" if bolt.state == "next" else "ink"
        mark = [Disc(x=x_mm, y=y_mm, radius=4.2, form="ring", ink=ink)]
    if bolt.state == "next":
        box = Rect(x=x_mm - 5.6, y=y_mm - 5.6, width=11.2, height=11.2, ink="petrol",
                   radius=2.0, stroke=0.9)  # fmt: skip
        mark.insert(0, box)
    filled = bolt.state in {"done", "off"}
    text = Label(
        x=x_mm, y=y_mm + 1.3, text=number, size=3.6, ink="paper" if filled else "ink", bold=True
    )
    return [*mark, text, name]


def bolt_picture(bolts: Sequence[Bolt], pattern: str, title: str) -> Picture:
    """Draw the bolts where the definition lists them, each with its turn in the pattern.

    Parameters
    ----------
    bolts : Sequence[Bolt]
        The bolts as the definition lists them.
    pattern : str
        Crosswise ones are drawn round a joint, the others in rows.
    title : str
        Title spoken by a screen reader.

    Returns
    -------
    Picture
        Outlined: still to do; boxed: next; filled: done; octagon: out of tolerance.
    """
    places, height_mm = (_round if pattern == "crosswise" else _in_rows)(len(bolts))
    shapes: list[Shape] = []
    turns = sorted((b.number, place) for b, place in zip(bolts, places, strict=True) if b.number)
    for (_, a), (_, b) in pairwise(turns):
        if pattern == "crosswise":
            shapes.append(Line(x1=a[0], y1=a[1], x2=b[0], y2=b[1], ink="line", width=0.3))
    for bolt, place in zip(bolts, places, strict=True):
        shapes += _drawn(bolt, *place)
    done = [bolt.name for bolt in bolts if bolt.state == "done"]
    off = [bolt.name for bolt in bolts if bolt.state == "off"]
    whole = sum(bolt.number > 0 for bolt in bolts)
    said = [word("{done} of {whole} bolts done", done=len(done), whole=whole)]
    said += [word("out of tolerance: {names}", names=", ".join(off))] if off else []
    said += [word("next: {name}", name=bolt.name) for bolt in bolts if bolt.state == "next"]
    return Picture(
        width_mm=_WIDTH_MM, height_mm=height_mm, title=title,
        description="; ".join(said) + ".", shapes=tuple(shapes),
    )  # fmt: skip


def _bolts(
    stage: TorqueStageCheck, plan: TorqueList, rows: Sequence[str], again: Collection[str]
) -> tuple[Bolt, ...]:
    got, off = dict(stage.values), {name for name, _ in stage.off}
    asked = {*got, *stage.missing}
    ordered = [name for name in in_pattern(plan.positions, plan.pattern) if name in asked]
    turn = next((name for name in ordered if name not in got), "")

    def state(name: str) -> BoltState:
        if name in off:
            return "off"
        if name in got:
            return "done"
        return "next" if name == turn else "open" if name in asked else "extra"

    return tuple(
        Bolt(
            name=name,
            number=ordered.index(name) + 1 if name in asked else 0,
            state=state(name),
            got_nm=got.get(name),
            clicked=isinstance(got.get(name), Clicked),
            again=name in again,
        )
        for name in rows
    )


def _sheet(
    check: TorqueCheck,
    number: int,
    plan: TorqueList,
    *,
    rows: Sequence[str],
    again: Collection[str],
) -> TorqueSheet:
    stage = check.stages[number - 1]
    bolts = _bolts(stage, plan, rows, again)
    half_nm = stage.target_nm * stage.tolerance_percent / 100
    title = f"{check.title}, stage {number}"
    return TorqueSheet(
        title=check.title,
        stage=number,
        stages=len(check.stages),
        pattern=plan.pattern,
        target_nm=stage.target_nm,
        low_nm=stage.target_nm - half_nm,
        high_nm=stage.target_nm + half_nm,
        tolerance_percent=stage.tolerance_percent,
        limit_kind=stage.limit_kind,
        limit_source=stage.limit_source,
        tool=stage.tool,
        bolts=bolts,
        picture=bolt_picture(bolts, plan.pattern, title),
    )


def _barred(check: TorqueCheck, number: int, items: TorqueItems) -> Blocker | None:
    """Say what has to be done before bolts of a stage are entered."""
    stage, where = check.stages[number - 1], dict[str, Param](name=check.title, stage=number)
    if number > 1 and (check.stages[number - 2].missing or check.stages[number - 2].off):
        return TORQUE_STAGE_WAITS(items.values.key, **where, before=number - 1)
    if not stage.tool:
        return TORQUE_TOOL_FIRST(items.tool.key, **where)
    if stage.tool_fault == "lapsed":
        return TORQUE_TOOL_LAPSED(items.tool.key, **where, label=stage.tool)
    if stage.tool_fault == "range":
        nm = {"low_nm": stage.tool_low_nm, "high_nm": stage.tool_high_nm}
        key, label = items.tool.key, stage.tool
        return TORQUE_TOOL_RANGE(key, **where, **nm, label=label, target_nm=stage.target_nm)
    return None


def _stage_words(plan: TorqueList) -> str:
    stages = [f"{s.target_nm:g} Nm ± {s.tolerance_percent:g} %" for s in plan.stages]
    return f"{word(_WORDS[plan.pattern])}: {word(', then ').join(stages)}"


def _checker(
    record: Record, items: TorqueItems, plan: TorqueList, wanted: Sequence[str]
) -> Callable[[str], tuple[TorqueCheck, int]]:
    """Give what checks the list that a qualifier names, and the stage it names."""

    def check(qualifier: str) -> tuple[TorqueCheck, int]:
        parts = qualifier_parts(qualifier)
        number = int(parts.pop("stage"))
        return check_torque(record, items, plan, wanted, parts), number

    return check


def asked_torque(
    record: Record,
    items: TorqueItems,
    plan: TorqueList,
    *,
    rows: Sequence[str] | None = None,
    wanted: Sequence[str] | None = None,
    places: Sequence[Mapping[str, str]] = ({},),
) -> tuple[Item[Any], ...]:
    """Give the items of a list as its definition asks them.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : TorqueItems
        The step's own items.
    plan : TorqueList
        The list of the pack definition.
    rows : Sequence[str] | None
        Positions offered; None for all of the list.
    wanted : Sequence[str] | None
        Positions that have to be tightened; None for all that are offered.
    places : Sequence[Mapping[str, str]]
        Where the list occurs, as further qualifier parts.

    Returns
    -------
    tuple[Item, ...]
        Tool, values, and the tick for new bolts where the maker asks for them.

    Notes
    -----
    A stage opens when the one before it is complete and a fit tool is picked for it.
    """
    offered_rows = tuple(plan.positions if rows is None else rows)
    checked = _checker(record, items, plan, offered_rows if wanted is None else wanted)
    stages = [str(number + 1) for number in range(len(plan.stages))]
    offered = tuple(qualifier_of(stage=stage, **place) for place in places for stage in stages)
    values = replace(
        items.values,
        rows=offered_rows,
        offered=offered,
        help=_stage_words(plan),
        barred=lambda qualifier: _barred(*checked(qualifier), items),
        sheet=lambda qualifier: _sheet(
            *checked(qualifier),
            plan,
            rows=offered_rows,
            again=overtaken(record, items.values, qualifier),
        ),
    )
    bolts = (items.bolts,) if plan.replace_bolts else ()
    tool = replace(items.tool, offered=tuple(qualifier_of(stage=stage) for stage in stages))
    return (*bolts, tool, values)
