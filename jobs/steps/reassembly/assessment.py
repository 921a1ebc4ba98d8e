"""What the readings of reassembly say: coolant circuit, lid, isolation before and after it."""

from dataclasses import dataclass
from datetime import timedelta

from jobs.core.item import Effect
from jobs.core.link_check import LinkCheck, check_links
from jobs.core.once import once_a_record
from jobs.core.pack_side_check import PackSideResult, SectionFinding, assess_pack_side
from jobs.core.record import Record
from jobs.core.torque import TorqueCheck, check_torque
from jobs.steps.isolation_readings.assessment import assess as assess_isolation
from jobs.steps.module_swap.assessment import after_repair_limit
from jobs.steps.module_swap.assessment import assess as assess_swap
from jobs.steps.reassembly.items import (
    AFTER_LID,
    BEFORE_LID,
    COOLANT_END,
    COOLANT_GAUGE,
    COOLANT_MIN,
    COOLANT_START,
    INTERLOCK,
    LID,
    LID_ON,
    LINKS,
    REPAIRED,
    SENSE_LEADS,
    links_here,
    undone,
)
from packs.definition import Figure, PackDefinition

COOLANT_DROP_SHARE = 0.01
"""Share of the test pressure that the coolant circuit may seem to lose [1].

Shop default, no source: about 1 K at the pressures used. Anything more is a leak or not settled.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolantTest:
    """The coolant circuit's own leak test [kPa, min]."""

    start_kpa: float
    drop_kpa: float
    allowed_kpa: float
    minutes: float
    needed_kpa: float
    needed_min: float
    limit_kind: str
    limit_source: str
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A section that the isolation readings could not exclude, beside what it reads now [ohm]."""

    section: str
    now_ohm_low: float | None
    now_ohm_high: float | None
    known_now: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Reassembly:
    """Reassembly as it stands; `closed_verdict` is the pack's isolation with its lid on."""

    limit: Figure
    before_lid: PackSideResult
    after_lid: PackSideResult
    closed_verdict: str
    readable_closed: bool
    doubts: tuple[Doubt, ...] = ()
    coolant: CoolantTest | None = None
    lid: TorqueCheck | None = None
    links: LinkCheck | None = None
    last_torque_seq: int = 0
    ready_seq: int = 0
    cure_until: str = ""
    cured: bool = True


def _coolant(record: Record, pack: PackDefinition) -> CoolantTest | None:
    asked, minutes = pack.cooling.leak_test_kpa, pack.cooling.leak_test_minutes
    start, end, waited = (record.get(i) for i in (COOLANT_START, COOLANT_END, COOLANT_MIN))
    if asked is None or minutes is None or start is None or end is None or waited is None:
        return None
    gauge = record.get(COOLANT_GAUGE)
    steps_kpa = 0.0 if gauge is None else gauge.number("resolution_pa") / 1000.0
    spread_kpa = 0.0 if gauge is None else 2.0 * gauge.number("repeatability_pa") / 1000.0
    allowed = max(COOLANT_DROP_SHARE * asked.value, steps_kpa + spread_kpa)
    held = start - end <= allowed + 1e-9
    enough = start >= asked.value and waited >= minutes.value
    return CoolantTest(
        start_kpa=start,
        drop_kpa=start - end,
        allowed_kpa=allowed,
        minutes=waited,
        needed_kpa=asked.value,
        needed_min=minutes.value,
        limit_kind=asked.kind,
        limit_source=asked.source,
        verdict="fail" if not held else "pass" if enough else "undecided",
    )


def _excluded(section: SectionFinding) -> bool:
    whole = section.found.insulation
    return whole is not None and not whole.near_zero and not whole.contradictory


def _doubts(record: Record, before: PackSideResult) -> tuple[Doubt, ...]:
    now = {section.name: section for section in before.sections}
    first = assess_isolation(record).pack.sections
    found = []
    for name in (section.name for section in first if not _excluded(section)):
        section = now.get(name)
        whole = None if section is None else section.found.insulation
        found.append(
            Doubt(
                section=name,
                now_ohm_low=None if whole is None else whole.total_ohm_low,
                now_ohm_high=None if whole is None else whole.total_ohm_high,
                known_now=section is not None and _excluded(section),
            )
        )
    return tuple(found)


def closed_verdict(
    before: PackSideResult, after: PackSideResult, limit_ohm: float, *, readable: bool
) -> str:
    """Judge the isolation of the closed pack from the readings before and after the lid.

    Parameters
    ----------
    before : PackSideResult
        Read with the lid off, at every pole.
    after : PackSideResult
        Read with the lid on, at the points that can be reached.
    limit_ohm : float
        The limit times the working voltage [ohm].
    readable : bool
        Whether the closed pack has a point that can be reached at all.

    Returns
    -------
    str
        "pass", "fail", "undecided", or "none" while nothing was read.

    Notes
    -----
    A sound section reads near zero at its only reachable pole, which alone excludes nothing. It
    counts as passed when it passed with the lid off and nothing that can be read contradicts it.
    Nothing else that is undecided passes. Shop rule, from the circuit; no standard.
    """
    if not readable or before.verdict != "pass":
        return before.verdict
    if after.verdict != "undecided" or not after.near_zero:
        return after.verdict
    if after.unsettled or after.differ or after.unread or after.contradictory:
        return "undecided"
    shown = [s.found.insulation for s in after.sections]
    sound = all(i is not None and (i.near_zero or i.total_ohm_low >= limit_ohm) for i in shown)
    return "pass" if sound else "undecided"


def _last_torque_seq(record: Record, links: LinkCheck | None) -> int:
    checks = [links, assess_swap(record).links]
    torques = [t for check in checks if check is not None for t in (check.others, check.last)]
    return max((torque.last_seq for torque in torques if torque is not None), default=0)


def _last_work_seq(record: Record) -> int:
    """Give the last place in the chain at which the inside of the pack was changed."""
    done = [record.given(item) for item in (REPAIRED, SENSE_LEADS, INTERLOCK)]
    opened = [event.seq for event in record.lid_events if event.effect == Effect.OPENS_PACK]
    return max([*opened, *(given.seq for given in done if given is not None)], default=0)


@once_a_record
def assess(record: Record) -> Reassembly:
    """Judge coolant circuit, links closed here, lid, and isolation before and after the lid.

    Parameters
    ----------
    record : Record
        The job as it stands.

    Returns
    -------
    Reassembly
        Verdicts "none" while nothing was read. Curing counts on the server's clock from the lid.
    """
    limit, pack = after_repair_limit(record), record.pack
    before = assess_pack_side(record, BEFORE_LID, limit.value)
    after = assess_pack_side(record, AFTER_LID, limit.value)
    if pack is None:
        return Reassembly(limit=limit, before_lid=before, after_lid=after,
                          closed_verdict="none", readable_closed=False)  # fmt: skip
    readable = any(point.reachable == "closed" for point in pack.isolation_points)
    limit_ohm = limit.value * pack.working_v
    links = check_links(record, LINKS, undone(record)) if links_here(record) else None
    bolts, lid_on, cure = pack.lid.bolts, record.given(LID_ON), pack.lid.cure_h
    until = None
    if lid_on is not None and cure is not None:
        until = lid_on.at + timedelta(hours=cure.value)
    return Reassembly(
        limit=limit,
        before_lid=before,
        after_lid=after,
        closed_verdict=closed_verdict(before, after, limit_ohm, readable=readable),
        readable_closed=readable,
        doubts=_doubts(record, before),
        coolant=_coolant(record, pack),
        lid=None if bolts is None else check_torque(record, LID, bolts, bolts.positions),
        links=links,
        last_torque_seq=_last_torque_seq(record, links),
        ready_seq=max(_last_torque_seq(record, links), _last_work_seq(record)),
        cure_until="" if until is None else until.isoformat(),
        cured=until is None or record.now >= until,
    )
