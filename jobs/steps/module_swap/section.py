"""What the module swap says on the screen and in the report."""

import statistics
from collections.abc import Mapping

from jobs.core.link_check import JointFigure, LinkCheck
from jobs.core.picture import joint_lanes
from jobs.core.record import Record
from jobs.core.section import Fact, Quantity, Said, Section, Table, VerdictWord, Words
from jobs.core.spare_facts import RESTED
from jobs.core.spare_words import SparesSaid, spares_said
from jobs.core.torque import TorqueCheck, torque_fact, torque_table
from jobs.steps.module_swap.assessment import MatchedModule, SwappedModule, SwapResult
from jobs.steps.module_swap.gate import blockers
from jobs.steps.module_swap.items import DANGER, SPARES
from packs.pack_map import pack_map
from packs.picture import Picture

JOINTS_DRAWN = 16
SUM = "what its modules add up to"
"""So many joints have a lane in the drawing, those with the highest resistance [1]."""


def _verdict(word: str) -> VerdictWord:
    known: dict[str, VerdictWord] = {"pass": "pass", "fail": "fail", "undecided": "undecided"}
    return known.get(word, "none")


def _spares(record: Record, result: SwapResult) -> SparesSaid | None:
    """Say match and charge; nothing of what was joined before they were asked."""
    checks = {m.name: m.check for m in result.modules if isinstance(m, MatchedModule)}
    return spares_said(record, SPARES, record.pack, checks) if record.pack and checks else None


def _module_facts(record: Record, module: SwappedModule, result: SwapResult) -> list[Fact]:
    facts, insulation = list[Fact](), module.insulation
    limit = result.isolation_limit
    if insulation is not None and limit is not None:
        bound = insulation.ohm_high is None
        facts.append(
            Fact(
                label=Said("Insulation of the spare for {module}", {"module": module.name}),
                value=Quantity(
                    insulation.ohm_low,
                    "ohm",
                    insulation.ohm_low,
                    insulation.ohm_high,
                    ">" if bound else "=",
                ),
                verdict=_verdict(insulation.verdict),
                limit=Quantity(insulation.limit_ohm, "ohm"),
                limit_kind=limit.kind,
                limit_source=limit.source,
            )
        )
    if module.difference_mv is not None and not isinstance(module, MatchedModule):
        within = abs(module.difference_mv) <= result.difference_limit_mv + 1e-6
        shop = record.limits.cell_difference_mv
        facts.append(
            Fact(
                label=Said(RESTED, {"module": module.name}),
                value=Quantity(module.difference_mv, "mV"),
                verdict="pass" if within else "fail",
                limit=Quantity(result.difference_limit_mv, "mV"),
                limit_kind=shop.kind,
                limit_source=shop.source,
            )
        )
    return facts


def _measured(value: object, unit: str) -> Words:
    """Give a figure of the spare's snapshot, whose numbers an entry keeps as text."""
    return Quantity(float(value), unit) if isinstance(value, int | float | str) else "–"


def _tested(data: Mapping[str, object]) -> Words:
    """Say how old the spare's tests were when it was picked."""
    days = data.get("days_since_test")
    if not isinstance(days, int | float | str) or days == "":
        return Said("not known when")
    return Said("days before it was picked: {days}", {"days": f"{float(days):g}"})


def _parts(result: SwapResult) -> Table:
    rows = []
    for module in result.modules:
        spare = module.spare
        data = {} if spare is None else spare.data
        rows.append(
            (
                module.name,
                module.removed_serial or "–",
                "–" if spare is None else spare.serial,
                str(data.get("provenance") or "–"),
                _measured(data.get("capacity_ah"), "Ah"),
                _measured(data.get("resistance_mohm"), "mohm"),
                _tested(data),
            )
        )
    headings = ("Module", "Serial out", "Serial in", "Comes from", "Capacity")
    return Table(
        title="Parts out and in",
        headings=(*headings, "Resistance", "Tested"),
        rows=tuple(rows),
        of_parts=True,
        shares=(0.08, 0.16, 0.16, 0.22, 0.1, 0.13, 0.15),
    )


def _joint_row(figure: JointFigure) -> tuple[Words, ...]:
    low, high = figure.micro_ohm_low, figure.micro_ohm_high
    ratio = figure.ratio_to_median
    return (
        figure.position,
        Quantity(figure.micro_ohm, "µohm", low, high),
        "–" if ratio is None else f"{ratio:.0%}",
    )


def link_facts(links: LinkCheck) -> tuple[Fact, ...]:
    """Give the lines of proof of closed links: worst joint, and voltage of the parts."""
    worst = max(links.joints, key=lambda figure: figure.micro_ohm_high, default=None)
    parts = [
        Fact(
            label=part.name,
            value=Quantity(part.got_v, "V"),
            verdict="pass" if part.agrees else "fail",
            limit=Quantity(part.expected_v, "V"),
            limit_kind="computed",
            limit_source=SUM,
        )
        for part in links.parts
        if part.got_v is not None
    ]
    if worst is None:
        return tuple(parts)
    limit = links.joint_limit_micro_ohm
    joint = Fact(
        label=Said("Joint with the highest resistance, {joint}", {"joint": worst.position}),
        value=Quantity(worst.micro_ohm, "µohm", worst.micro_ohm_low, worst.micro_ohm_high),
        verdict=_verdict(worst.verdict),
        limit=None if limit is None else Quantity(limit, "µohm"),
        limit_kind=links.joint_limit_kind,
        limit_source=links.joint_limit_source,
    )
    return (*parts, joint)


def _stands_out(record: Record, figure: JointFigure) -> bool:
    over_percent = ((figure.ratio_to_median or 1.0) - 1.0) * 100.0
    high = over_percent > record.limits.joint_ratio_percent.value
    return high or figure.verdict in {"fail", "undecided"}


def _joint_limit(record: Record, links: LinkCheck) -> tuple[float, float]:
    """Give the median of the joints and their limit, the maker's or the shop's [micro ohm]."""
    median = statistics.median(figure.micro_ohm for figure in links.joints)
    shop = median * (1.0 + record.limits.joint_ratio_percent.value / 100.0)
    return median, links.joint_limit_micro_ohm or shop


def joint_pictures(record: Record, links: LinkCheck | None) -> tuple[Picture, ...]:
    """Draw the joints as they were read; empty while there are none."""
    if links is None or not links.joints:
        return ()
    median, limit = _joint_limit(record, links)
    shown = sorted(links.joints, key=lambda f: f.micro_ohm, reverse=True)[:JOINTS_DRAWN]
    lanes = [
        (f.position, f.micro_ohm, f.micro_ohm_low, f.micro_ohm_high, _stands_out(record, f))
        for f in links.joints
        if f in shown
    ]
    return (joint_lanes(lanes, median_micro_ohm=median, limit_micro_ohm=limit),)


def joint_advice(record: Record, links: LinkCheck | None) -> tuple[Said, ...]:
    """Say what to do with each joint that stands out, with its figure against the others."""
    if links is None or not links.joints:
        return ()
    median, limit = _joint_limit(record, links)
    words = (
        "Joint {position}: {got_micro_ohm:.1f} µΩ, the median of all is {median_micro_ohm:.1f}, "
        "the limit {limit_micro_ohm:.1f}. Measure again; if it stays: last link off, clean both "
        "faces, fit it, torque it through all stages, measure again."
    )
    return tuple(
        Said(words, {
            "position": one.position, "got_micro_ohm": one.micro_ohm,
            "median_micro_ohm": median, "limit_micro_ohm": limit,
        })
        for one in links.joints
        if _stands_out(record, one)
    )  # fmt: skip


def link_tables(links: LinkCheck) -> tuple[Table, ...]:
    """Give the readings of closed links one by one: torque of each bolt, each joint."""
    torque = [torque_table(check) for check in (links.others, links.last) if check is not None]
    headings = ("Joint", "Resistance", "Against the median")
    joints = Table(
        title="Joints", headings=headings, rows=tuple(_joint_row(one) for one in links.joints)
    )
    filled = [table for table in torque if table.rows]
    return (*filled, joints) if links.joints else tuple(filled)


def _torques(result: SwapResult) -> tuple[TorqueCheck, ...]:
    ties = [module.tie for module in result.modules if module.tie is not None]
    links = result.links
    closed = [] if links is None else [c for c in (links.others, links.last) if c is not None]
    return tuple(check for check in (*ties, *closed) if any(s.values for s in check.stages))


def _plain(result: SwapResult, spares: SparesSaid | None) -> tuple[Said, ...]:
    said = []
    for module in result.modules:
        if module.spare is None:
            continue
        where = {"module": module.name, "serial": module.spare.serial}
        said.append(
            Said("We replaced module {module} by one of the same kind, serial {serial}.", where)
        )
        origin = str(module.spare.data.get("provenance") or "")
        if origin:
            said.append(Said("The replacement comes from: {origin}.", {"origin": origin}))
        said += () if spares is None else spares.plain[module.name]
        if module.quarantine_place:
            place = {"place": module.quarantine_place}
            said.append(Said("The old module was put outdoors, under watch: {place}.", place))
    return tuple(said)


def _warnings(record: Record, result: SwapResult, spares: SparesSaid | None) -> tuple[Said, ...]:
    found = []
    if any(module.quarantine_class == DANGER for module in result.modules):
        found.append(Said("Danger signs: everybody out, call the fire brigade."))
    found += () if spares is None else spares.warnings
    if result.modules and record.pack is not None and record.pack.chemistry == "lfp":
        flat = "This chemistry's voltage hardly shows its charge: equal voltage is no equal charge."
        found.append(Said(flat))
    return tuple(found)


def _match_first(result: SwapResult, spares: SparesSaid | None) -> tuple[Said, ...]:
    """Say what the match asks, which comes before the fitting, until the links are closed."""
    closing = result.links is not None and bool(result.links.joints)
    if closing or all(module.spare is None for module in result.modules):
        return ()
    return (
        *(() if spares is None else spares.advice),
        Said("Match the spare before it is fitted."),
    )


def _pictures(record: Record, result: SwapResult, spares: SparesSaid | None) -> tuple[Picture, ...]:
    pack = record.pack
    names = tuple(module.name for module in result.modules if module.spare is not None)
    placed = pack is not None and names
    return (
        *(() if spares is None else spares.pictures),
        *((pack_map(pack, replaced=names, title="Replaced modules"),) if pack and placed else ()),
        *joint_pictures(record, result.links),
    )


def section(record: Record, result: SwapResult) -> Section:
    """Say what came out, what went in, how well it matches, and how it was joined."""
    open_points, spares, links = blockers(record, result), _spares(record, result), result.links
    facts = list[Fact]()
    for module in result.modules:
        facts += _module_facts(record, module, result)
        facts += () if spares is None else spares.facts[module.name]
    last = None if links is None else links.last
    facts += [torque_fact(check, last_link=check is last) for check in _torques(result)]
    picked = any(module.spare is not None for module in result.modules)
    done = picked and bool(links and links.joints) and not open_points
    own = Said("Capacity and resistance of the spare are taken from its own record.")
    return Section(
        verdict="pass" if done else "none",
        headline=Said("Spare matched and joined") if done else None,
        plain=_plain(result, spares),
        advice=(*joint_advice(record, links), *_match_first(result, spares)),
        warnings=_warnings(record, result, spares),
        facts=(*facts, *(() if links is None else link_facts(links))),
        tables=(
            *((_parts(result),) if result.modules else ()),
            *(() if spares is None else spares.tables),
            *(torque_table(module.tie) for module in result.modules if module.tie is not None),
            *(() if links is None else link_tables(links)),
        ),
        counts=() if spares is None else spares.counts,
        pictures=_pictures(record, result, spares),
        not_covered=(own, *(() if spares is None else spares.taken)) if picked else (),
    )
