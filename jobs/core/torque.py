"""Torque lists: bolts tightened in stages, each stage with its tool.

Here: the items of one list, what the entered values say, what stands against them, and the lines
for screen and report. Not here: which of it is asked, in which pattern (`jobs.core.torque_sheet`),
which lists a step has and which bolts were undone (the rooms).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import NamedTuple

from jobs.core.item import EquipmentUsed, Item, Shape, equipment, qualifier_of, table, tick
from jobs.core.reason import Blocker, Param, Reason
from jobs.core.record import Given, Record
from jobs.core.section import Fact, Quantity, Said, Table, Words
from jobs.core.snapshot import Clicked
from jobs.core.torque_entered import Entered, entered
from packs.definition import TorqueList, TorqueStage

__all__ = [
    "REASONS",
    "TorqueCheck",
    "TorqueItems",
    "TorqueStageCheck",
    "check_torque",
    "tool_of",
    "torque_blockers",
    "torque_fact",
    "torque_items",
    "torque_table",
    "used_in_date",
]

TORQUE_MISSING = Reason(
    "torque_missing", "{name}, stage {stage} of {stages}: no value yet for {positions}."
)
TORQUE_OFF = Reason(
    "torque_off",
    "{name}, {position}, stage {stage}: {got_nm:g} Nm instead of {target_nm:g} Nm within "
    "{tolerance_percent:g} %. Loosen it, strike its value, tighten it again and enter it.",
)
TORQUE_NO_TOOL = Reason("torque_no_tool", "{name}, stage {stage}: pick the torque tool.")
TORQUE_TOOL_LAPSED = Reason(
    "torque_tool_lapsed", "{name}, stage {stage}: {label} was out of calibration. Use another one."
)
TORQUE_TOOL_RANGE = Reason(
    "torque_tool_range",
    "{name}, stage {stage}: {label} covers {low_nm:g} to {high_nm:g} Nm, not {target_nm:g} Nm.",
)

TORQUE_TOOL_FIRST = Reason(
    "torque_tool_first", "{name}, stage {stage}: pick the torque tool before the first bolt."
)
TORQUE_STAGE_WAITS = Reason(
    "torque_stage_waits",
    "{name}: stage {stage} opens when every bolt of stage {before} is within its tolerance.",
)
TORQUE_TOOL_LATE = Reason(
    "torque_tool_late",
    "{name}, stage {stage}: {label} was picked after the values. Strike them and tighten with it.",
)

REASONS = (
    TORQUE_MISSING,
    TORQUE_OFF,
    TORQUE_NO_TOOL,
    TORQUE_TOOL_LAPSED,
    TORQUE_TOOL_RANGE,
    TORQUE_TOOL_LATE,
    TORQUE_TOOL_FIRST,
    TORQUE_STAGE_WAITS,
)

_SLACK_NM = 1e-9
_LABELS = {
    "Tie bolts": ("Tie bolts: torque", "Tie bolts: torque tool", "Tie bolts: new bolts used"),
    "Busbar joints": (
        "Busbar joints: torque",
        "Busbar joints: torque tool",
        "Busbar joints: new bolts used",
    ),
    "Last link": ("Last link: torque", "Last link: torque tool", "Last link: new bolts used"),
    "Lid bolts": ("Lid bolts: torque", "Lid bolts: torque tool", "Lid bolts: new bolts used"),
    "Pack to vehicle": (
        "Pack to vehicle: torque",
        "Pack to vehicle: torque tool",
        "Pack to vehicle: new bolts used",
    ),
}
"""Labels of values, tool and new bolts of each list, whole, so that they can be translated."""


class TorqueItems(NamedTuple):
    """Items of one torque list: values and tool of each stage, and whether the bolts are new."""

    values: Item[dict[str, float]]
    tool: Item[EquipmentUsed]
    bolts: Item[bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueStageCheck:
    """What was entered for one stage; `tool_fault` is "", "missing", "lapsed", "range", "late"."""

    stage: int
    target_nm: float
    tolerance_percent: float
    limit_kind: str
    limit_source: str
    values: tuple[tuple[str, float], ...] = ()
    missing: tuple[str, ...] = ()
    off: tuple[tuple[str, float], ...] = ()
    tool: str = ""
    tool_low_nm: float = 0.0
    tool_high_nm: float = 0.0
    tool_fault: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueCheck:
    """A list as it stands; `place` says where, for a list that occurs more than once."""

    name: str
    place: str
    stages: tuple[TorqueStageCheck, ...]
    last_seq: int = 0

    @property
    def done(self) -> bool:
        """Whether every bolt has every stage, within its limits, with a fit tool."""
        return not any(s.missing or s.off or s.tool_fault for s in self.stages)

    @property
    def title(self) -> str:
        """Name of the list with its place."""
        return f"{self.name}, {self.place}" if self.place else self.name


def torque_items(
    key: str, label: str, *, group: str, hold: str = "", scope: tuple[str, ...] = ()
) -> TorqueItems:
    """Make the items of a torque list.

    Parameters
    ----------
    key : str
        Start of the items' keys, slug of the step included.
    label : str
        What the bolts hold.
    group, hold : str
        Heading on the page, and hold point before them.
    scope : tuple[str, ...]
        Names of further qualifier parts where the list occurs more than once.

    Returns
    -------
    TorqueItems
        The items; `asked_torque` (`jobs.core.torque_sheet`) gives those that apply to a pack.
    """
    plain = (f"{label}: torque", f"{label}: torque tool", f"{label}: new bolts used")
    values, tool, new_bolts = _LABELS.get(label, plain)
    return TorqueItems(
        values=replace(
            table(
                f"{key}_torque", values, unit="Nm", low=0, high=1000, many="each",
                qualifiers=(*scope, "stage"), group=group, hold=hold,
            ),
            shape=Shape.TORQUE,
        ),
        tool=equipment(
            f"{key}_tool", tool, ("torque_tool",), many="each",
            qualifiers=("stage",), group=group, hold=hold,
            help="One for each stage; without a new one the last goes on.",
        ),
        bolts=tick(f"{key}_new_bolts", new_bolts, group=group, hold=hold),
    )  # fmt: skip


def used_in_date(given: Given[EquipmentUsed], day: date | None = None) -> bool:
    """Tell whether a dated tool or instrument was in test or calibration when it was used.

    Parameters
    ----------
    given : Given[EquipmentUsed]
        The tool as picked.
    day : date | None
        Day of use; None for the day it was picked.

    Returns
    -------
    bool
        False without a due date.
    """
    return given.value.due_on is not None and given.value.in_date(day or given.at.date())


def tool_of(record: Record, tool: Item[EquipmentUsed], stage: int) -> Given[EquipmentUsed] | None:
    """Give the tool of a stage: its own, or the last one picked for a stage before it."""
    found = [record.given(tool, qualifier_of(stage=str(n))) for n in range(1, stage + 1)]
    return next((given for given in reversed(found) if given is not None), None)


def _fault(
    given: Given[EquipmentUsed] | None, target_nm: float, day: date, values_seq: int | None
) -> str:
    if given is None:
        return "missing"
    if not used_in_date(given, day):
        return "lapsed"
    if not given.value.number("low_nm") <= target_nm <= given.value.number("high_nm"):
        return "range"
    return "late" if values_seq is not None and given.seq > values_seq else ""


def _check_stage(
    stage: TorqueStage,
    number: int,
    *,
    given: Entered,
    picked: Given[EquipmentUsed] | None,
    rows: Sequence[str],
) -> TorqueStageCheck:
    values, tool = given.values, None if picked is None else picked.value
    half_nm = stage.target_nm * stage.tolerance_percent / 100 + _SLACK_NM
    return TorqueStageCheck(
        stage=number,
        target_nm=stage.target_nm,
        tolerance_percent=stage.tolerance_percent,
        limit_kind=stage.kind,
        limit_source=stage.source,
        values=tuple(values.items()),
        missing=tuple(row for row in rows if row not in values),
        off=tuple(
            (row, got)
            for row, got in values.items()
            if abs(got - stage.target_nm) > (_SLACK_NM if isinstance(got, Clicked) else half_nm)
        ),
        tool="" if tool is None else tool.label,
        tool_low_nm=0.0 if tool is None else tool.number("low_nm"),
        tool_high_nm=0.0 if tool is None else tool.number("high_nm"),
        tool_fault=_fault(picked, stage.target_nm, given.day, given.first_seq) if rows else "",
    )


def check_torque(
    record: Record,
    items: TorqueItems,
    plan: TorqueList,
    rows: Sequence[str],
    place: Mapping[str, str] | None = None,
) -> TorqueCheck:
    """Compare what was entered for a list with what its definition asks.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : TorqueItems
        The step's own items.
    plan : TorqueList
        The list of the pack definition, torque in [Nm].
    rows : Sequence[str]
        Positions that have to be tightened; any further one entered in a stage is asked in all.
    place : Mapping[str, str] | None
        Which occurrence of the list, as qualifier parts.

    Returns
    -------
    TorqueCheck
        Stage by stage: missing and wrong positions, and the tool, in date on the day of use.

    Notes
    -----
    A value counts within ``target ± tolerance``; both come from the definition with their source.
    A click of the tool counts only where the tool was set to the target. Bolts may have been
    entered one by one or a whole stage at once. A bolt tightened again at an earlier stage is
    missing in the later ones until it is entered there once more.
    """
    where = dict(place or {})
    numbers = range(1, len(plan.stages) + 1)
    given = {n: entered(record, items.values, qualifier_of(stage=str(n), **where)) for n in numbers}
    further = [row for each in given.values() for row in each.values]
    wanted = tuple(dict.fromkeys((*rows, *further)))
    stages = tuple(
        _check_stage(
            stage,
            number,
            given=given[number],
            picked=tool_of(record, items.tool, number),
            rows=wanted,
        )
        for number, stage in enumerate(plan.stages, start=1)
    )
    last_seq = max((each.last_seq for each in given.values()), default=0)
    return TorqueCheck(
        name=plan.name, place=", ".join(where.values()), stages=stages, last_seq=last_seq
    )


def _tool_blocker(check: TorqueCheck, stage: TorqueStageCheck, key: str) -> tuple[Blocker, ...]:
    where: dict[str, Param] = {"name": check.title, "stage": stage.stage}
    faults = {
        "missing": TORQUE_NO_TOOL(key, **where),
        "lapsed": TORQUE_TOOL_LAPSED(key, **where, label=stage.tool),
        "late": TORQUE_TOOL_LATE(key, **where, label=stage.tool),
        "range": TORQUE_TOOL_RANGE(
            key,
            **where,
            label=stage.tool,
            low_nm=stage.tool_low_nm,
            high_nm=stage.tool_high_nm,
            target_nm=stage.target_nm,
        ),
    }
    return (faults[stage.tool_fault],) if stage.tool_fault else ()


def torque_blockers(check: TorqueCheck, items: TorqueItems) -> tuple[Blocker, ...]:
    """Say what stands against a torque list: missing and wrong values, and its tools.

    Parameters
    ----------
    check : TorqueCheck
        The list as it stands.
    items : TorqueItems
        The items that mend it.

    Returns
    -------
    tuple[Blocker, ...]
        Empty when the list is done.
    """
    found: list[Blocker] = []
    key = items.values.key
    for stage in check.stages:
        where: dict[str, Param] = {"name": check.title, "stage": stage.stage}
        if stage.missing:
            positions = ", ".join(stage.missing)
            missing = TORQUE_MISSING(key, **where, stages=len(check.stages), positions=positions)
            found.append(missing)
        found += [
            TORQUE_OFF(
                key,
                **where,
                position=position,
                got_nm=got_nm,
                target_nm=stage.target_nm,
                tolerance_percent=stage.tolerance_percent,
            )
            for position, got_nm in stage.off
        ]
        found += _tool_blocker(check, stage, items.tool.key)
    return tuple(found)


def torque_fact(check: TorqueCheck, *, last_link: bool = False) -> Fact:
    """Give the line of proof of a torque list: its last stage, limit, source and tool.

    Counted are all bolts that are asked, and of them those within tolerance at every stage.
    """
    last = check.stages[-1]
    off = {row for stage in check.stages for row, _ in stage.off}
    good = sum(row not in off for row, _ in last.values)
    asked = len(last.values) + len(last.missing)
    within = Said("{good} of {bolts} bolts", {"good": good, "bolts": asked})
    return Fact(
        label=Said("{bolts}, last link", {"bolts": check.title}) if last_link else check.title,
        value=within,
        verdict="pass" if check.done else "fail" if off else "none",
        limit=Quantity(last.target_nm, "Nm"),
        limit_kind=last.limit_kind,
        limit_source=last.limit_source,
        instrument=last.tool,
    )


def _cell(got_nm: float | None) -> Words:
    """Write a torque; what the tool only clicked at is said to be that."""
    if got_nm is None:
        return "–"
    if isinstance(got_nm, Clicked):
        return Said("clicked at {set_nm:g} Nm", {"set_nm": float(got_nm)})
    return Quantity(got_nm, "Nm")


def torque_table(check: TorqueCheck) -> Table:
    """Give the values of a torque list, one row a bolt and one column a stage."""
    rows = dict.fromkeys(row for stage in check.stages for row, _ in stage.values)
    columns = [dict(stage.values) for stage in check.stages]
    return Table(
        title=check.title,
        headings=("Bolt", *(Quantity(s.target_nm, "Nm") for s in check.stages)),
        rows=tuple((row, *(_cell(column.get(row)) for column in columns)) for row in rows),
    )
