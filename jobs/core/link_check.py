"""Closing the links of the string after work on it: what the readings say, and what blocks.

Here: the string's parts before the last link closes, the joints after it.
Not here: what is asked (`jobs.core.links`), the torque lists (`jobs.core.torque`).
"""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace

from jobs.core.asked import note
from jobs.core.insulation import late_blockers
from jobs.core.links import ABOVE, BELOW, REVERSED, START, LinkItems, last_positions
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.section import Said
from jobs.core.torque import TorqueCheck, check_torque, torque_blockers, used_in_date
from packs.definition import PackDefinition
from packs.physics.instrument import CalculationRefused, Meter
from packs.physics.joint import FEWEST_SIBLINGS, JointCase, joint

__all__ = [
    "REASONS",
    "JointFigure",
    "LinkCheck",
    "PartVoltage",
    "check_links",
    "joint_blockers",
    "last_link_blockers",
]

PART_SHARE, PART_CELLS = 0.01, 0.5
"""How far a part may be from the sum of its modules: a share, and cells. Shop default."""
GAP_SHARE = 0.5
"""Share of the string's voltage across the open gap that says it is closed elsewhere [1].

Shop default. Two floating parts show next to nothing; a bridged one shows the whole sum.
"""

LINK_METER = Reason(
    "link_meter", "{label} is out of calibration or rated below {needed_v:.0f} V. Use another one."
)
LINK_POLARITY = Reason(
    "link_polarity", "A module sits reversed. Turn it and measure again; the last link stays off."
)
LINK_PART_V = Reason(
    "link_part_v",
    "{part}: {got_v:.1f} V measured, its modules add up to {expected_v:.1f} V. "
    "Find the module or link that is wrong; the last link stays off.",
)
LINK_PART_MISSING = Reason("link_part_missing", "{part}: measure its voltage end to end.")
LINK_GAP = Reason(
    "link_gap_v",
    "{gap_v:.1f} V stands across the gap: the string is closed somewhere else or leaks in two "
    "places. Find it; the last link stays off.",
)
LINK_JOINT_METER = Reason(
    "link_joint_meter", "{label} is out of calibration. Take the joint readings with another one."
)
LINK_JOINT_MISSING = Reason("link_joint_missing", "No voltage drop yet over {positions}.")
LINK_JOINT_FEW = Reason(
    "link_joint_few",
    "The maker gives no limit for a joint: read it with at least {fewest} like joints to compare.",
)
LINK_JOINT_LIMIT = Reason(
    "link_joint_limit",
    "Joint {position}: {micro_ohm:.1f} µΩ, up to {high_micro_ohm:.1f} µΩ; the limit is "
    "{limit_micro_ohm:.1f} µΩ. Clean and remake it.",
)
LINK_JOINT_RATIO = Reason(
    "link_joint_ratio",
    "Joint {position} stands {over_percent:.0f} % above the median of its like; {limit_percent:g} "
    "% are allowed. Clean and remake it.",
    countersign=True,
)
REASONS = (
    LINK_METER,
    LINK_POLARITY,
    LINK_PART_V,
    LINK_PART_MISSING,
    LINK_GAP,
    LINK_JOINT_METER,
    LINK_JOINT_MISSING,
    LINK_JOINT_FEW,
    LINK_JOINT_LIMIT,
    LINK_JOINT_RATIO,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartVoltage:
    """A part of the string: what was measured end to end and what its modules add up to [V]."""

    name: str
    expected_v: float
    got_v: float | None
    agrees: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class JointFigure:
    """A joint with its interval [micro ohm], its limit, and its ratio to the median of its like."""

    position: str
    micro_ohm: float
    micro_ohm_low: float
    micro_ohm_high: float
    ratio_to_median: float | None
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkCheck:
    """The links as they stand; empty while the pack or the last link is not known."""

    others: TorqueCheck | None = None
    last: TorqueCheck | None = None
    parts: tuple[PartVoltage, ...] = ()
    polarity: str = ""
    gap_v: float | None = None
    sum_v: float | None = None
    joints: tuple[JointFigure, ...] = ()
    joints_missing: tuple[str, ...] = ()
    joint_limit_micro_ohm: float | None = None
    joint_limit_kind: str = ""
    joint_limit_source: str = ""
    refused: str = ""


def _parts(record: Record, links: LinkItems, pack: PackDefinition) -> tuple[PartVoltage, ...]:
    link, cell_v = record.get(links.last_after), record.get(links.cell_v)
    if link is None or cell_v is None:
        return ()
    first = link.removeprefix(START)
    names = next((names for names in pack.sections() if first in names), ())
    split = 0 if link.startswith(START) else names.index(first) + 1 if names else 0
    got = record.get(links.part_v) or {}
    found = []
    for part, modules in ((BELOW, names[:split]), (ABOVE, names[split:])):
        expected_v = cell_v * sum(pack.module_named(name).cells for name in modules)
        got_v = got.get(part)
        half_v = PART_SHARE * expected_v + PART_CELLS * cell_v
        agrees = got_v is not None and abs(got_v - expected_v) <= half_v
        if modules:
            voltage = PartVoltage(name=part, expected_v=expected_v, got_v=got_v, agrees=agrees)
            found.append(voltage)
    return tuple(found)


def _joint_meter(record: Record, links: LinkItems) -> Meter | None:
    used = record.get(links.joint_meter)
    if used is None:
        return None
    return Meter(
        input_ohm=1e7,
        accuracy_percent=used.number("accuracy_percent"),
        accuracy_counts=used.number("accuracy_counts"),
        resolution_v=used.number("resolution_mv") / 1000.0,
    )


def _joint(case: JointCase, position: str, *, by_maker: bool) -> JointFigure:
    result = joint(case)
    note("joint", Said("Joint {joint}", {"joint": position}), case, result)
    return JointFigure(
        position=position,
        micro_ohm=result.micro_ohm,
        micro_ohm_low=result.micro_ohm_low,
        micro_ohm_high=result.micro_ohm_high,
        ratio_to_median=result.ratio_to_median,
        verdict=str(result.verdict) if by_maker else "none",
    )


def _joints(
    record: Record, links: LinkItems, limit_micro_ohm: float | None
) -> tuple[tuple[JointFigure, ...], str]:
    """Judge each joint; also gives why one could not be judged."""
    meter, current_a = _joint_meter(record, links), record.get(links.current)
    drops = record.get(links.drops) or {}
    if meter is None or not current_a:
        return (), ""
    figures, refused = list[JointFigure](), ""
    share = 1.0 + record.limits.joint_ratio_percent.value / 100.0
    ohms = {position: abs(drop) * 1000.0 / current_a for position, drop in drops.items()}
    for position, drop_mv in drops.items():
        like = [ohm for other, ohm in ohms.items() if other != position]
        like = like if len(like) >= FEWEST_SIBLINGS else []
        case = JointCase(
            drop_mv=drop_mv,
            current_a=current_a,
            meter=meter,
            siblings_micro_ohm=like,
            limit_micro_ohm=share * statistics.median(like) if like else None,
        )
        by_maker = limit_micro_ohm is not None
        case = replace(case, limit_micro_ohm=limit_micro_ohm) if by_maker else case
        try:
            figures.append(_joint(case, position, by_maker=by_maker))
        except CalculationRefused as why:
            refused = why.message
    return tuple(figures), refused


def check_links(record: Record, links: LinkItems, undone: Sequence[str]) -> LinkCheck:
    """Say how the links stand.

    Parameters
    ----------
    record : Record
        The job as it stands.
    links : LinkItems
        The step's own items.
    undone : Sequence[str]
        Busbar positions that have to be tightened and read again.

    Returns
    -------
    LinkCheck
        Torque, voltages of the parts against the sum of their modules [V], joints [micro ohm].

    Notes
    -----
    A part agrees within 1 % and half a cell of ``cells x median cell voltage``: a module put in
    the wrong way round is off by twice its own voltage (shop default, no source).
    """
    pack = record.pack
    if pack is None:
        return LinkCheck()
    plan, last = pack.busbar_joints, last_positions(pack, record.get(links.last_after))
    others = tuple(row for row in undone if row not in last)
    limit = pack.joint_limit_micro_ohm
    joints, refused = _joints(record, links, None if limit is None else limit.value)
    parts = _parts(record, links, pack)
    read = {figure.position for figure in joints}
    everything = len(last) == len(plan.positions)
    return LinkCheck(
        others=None if everything else check_torque(record, links.others, plan, others),
        last=check_torque(record, links.last, plan, last) if last else None,
        parts=parts,
        polarity=record.get(links.polarity) or "",
        gap_v=record.get(links.gap_v),
        sum_v=sum(part.expected_v for part in parts) if parts else None,
        joints=joints,
        joints_missing=tuple(row for row in dict.fromkeys((*undone, *last)) if row not in read),
        joint_limit_micro_ohm=None if limit is None else limit.value,
        joint_limit_kind="" if limit is None else limit.kind,
        joint_limit_source="" if limit is None else limit.source,
        refused=refused,
    )


def _meter_blockers(record: Record, links: LinkItems) -> tuple[Blocker, ...]:
    meter, pack = record.given(links.meter), record.pack
    if meter is None or pack is None:
        return ()
    used, needed_v = meter.value, pack.working_v
    if used.number("rated_v") >= needed_v and used_in_date(meter):
        return ()
    return (LINK_METER(links.meter.key, label=used.label, needed_v=needed_v),)


def last_link_blockers(record: Record, links: LinkItems, check: LinkCheck) -> tuple[Blocker, ...]:
    """Say what stands against closing the last link, beyond items not entered.

    Parameters
    ----------
    record : Record
        The job as it stands.
    links : LinkItems
        The step's own items.
    check : LinkCheck
        What the readings say.

    Returns
    -------
    tuple[Blocker, ...]
        Torque of the other links, meter, polarity, voltages of the parts and across the gap.
    """
    found: list[Blocker] = [*_meter_blockers(record, links)]
    found += late_blockers(record, links.meter, links.part_v, links.gap_v)
    if check.others is not None:
        found += torque_blockers(check.others, links.others)
    if check.polarity == REVERSED:
        found.append(LINK_POLARITY(links.polarity.key))
    for part in check.parts:
        if part.got_v is None:
            found.append(LINK_PART_MISSING(links.part_v.key, part=part.name))
        elif not part.agrees:
            volts = {"got_v": part.got_v, "expected_v": part.expected_v}
            found.append(LINK_PART_V(links.part_v.key, part=part.name, **volts))
    if check.gap_v is not None and check.sum_v and abs(check.gap_v) > GAP_SHARE * check.sum_v:
        found.append(LINK_GAP(links.gap_v.key, gap_v=check.gap_v))
    return tuple(found)


def joint_blockers(record: Record, links: LinkItems, check: LinkCheck) -> tuple[Blocker, ...]:
    """Say what stands against leaving the joints: torque of the last link, and their resistance.

    Parameters
    ----------
    record : Record
        The job as it stands.
    links : LinkItems
        The step's own items.
    check : LinkCheck
        What the readings say.

    Returns
    -------
    tuple[Blocker, ...]
        A joint over the maker's limit is never accepted; one that only stands out from its like
        (shop default) may be countersigned.
    """
    found: list[Blocker] = [] if check.last is None else [*torque_blockers(check.last, links.last)]
    found += late_blockers(record, links.joint_meter, links.drops)
    key, meter = links.drops.key, record.given(links.joint_meter)
    if meter is not None and not used_in_date(meter):
        found.append(LINK_JOINT_METER(links.joint_meter.key, label=meter.value.label))
    if record.has(links.drops) and check.refused:
        found.append(LINK_JOINT_FEW(key, fewest=FEWEST_SIBLINGS))
    elif record.has(links.drops) and check.joints_missing:
        found.append(LINK_JOINT_MISSING(key, positions=", ".join(check.joints_missing)))
    limit_percent = record.limits.joint_ratio_percent.value
    for figure in check.joints:
        if figure.verdict in {"fail", "undecided"}:
            found.append(
                LINK_JOINT_LIMIT(
                    key,
                    position=figure.position,
                    micro_ohm=figure.micro_ohm,
                    high_micro_ohm=figure.micro_ohm_high,
                    limit_micro_ohm=check.joint_limit_micro_ohm or 0.0,
                )
            )
        over_percent = ((figure.ratio_to_median or 1.0) - 1.0) * 100.0
        if over_percent > limit_percent:
            figures = {"over_percent": over_percent, "limit_percent": limit_percent}
            found.append(LINK_JOINT_RATIO(key, position=figure.position, **figures))
    return tuple(found)
