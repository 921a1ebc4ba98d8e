"""Closing the links of the string after work on it: what is asked.

Here: the items, the links and their busbar positions by name, and which of them were undone.
Not here: what the readings say and what blocks (`jobs.core.link_check`), the torque lists
themselves (`jobs.core.torque`), which step closes links (the rooms).
"""

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from jobs.core.item import Choice, EquipmentUsed, Item, choice, equipment, reading, table, tick
from jobs.core.record import Record
from jobs.core.torque import TorqueItems, torque_items
from jobs.core.torque_sheet import asked_torque
from packs.definition import PackDefinition

__all__ = [
    "ABOVE",
    "AS_MARKED",
    "BELOW",
    "LINK_HOLD",
    "REVERSED",
    "START",
    "LinkItems",
    "asked_links",
    "last_link_needs",
    "last_positions",
    "link_choices",
    "link_ends",
    "link_items",
    "undone_positions",
]

LINK_HOLD = "last_link"
"""Slug of the hold point before the last link closes, in every step that closes links."""
BELOW, ABOVE = "Part on the negative side", "Part on the positive side"
AS_MARKED, REVERSED = "as_marked", "reversed"
START = "before "
"""Begins the name of the link between a section's negative end and its first module."""


class LinkItems(NamedTuple):
    """Items for closing undone links, the last one behind its hold point."""

    last_after: Item[str]
    cell_v: Item[float]
    others: TorqueItems
    meter: Item[EquipmentUsed]
    polarity: Item[str]
    part_v: Item[dict[str, float]]
    gap_v: Item[float]
    closed: Item[bool]
    last: TorqueItems
    joint_meter: Item[EquipmentUsed]
    current: Item[float]
    drops: Item[dict[str, float]]


def _number(key: str, label: str, unit: str, low: float, high: float, **more: Any) -> Item[float]:
    return reading(key, label, unit=unit, low=low, high=high, **more)


def link_items(slug: str, live_hold: str) -> LinkItems:
    """Make the items for closing links, named after a step.

    Parameters
    ----------
    slug : str
        The step.
    live_hold : str
        Its hold point before live work; the last link has one of its own, ``last_link``.

    Returns
    -------
    LinkItems
        The items; `asked_links` gives those that apply to a pack.
    """
    links: dict[str, Any] = {"group": "Links", "hold": live_hold}
    before: dict[str, Any] = {"group": "Before the last link closes", "hold": live_hold}
    joints: dict[str, Any] = {"group": "Joints", "hold": LINK_HOLD}
    volts: dict[str, Any] = {"unit": "V", "low": -1500, "high": 1500}
    way = (Choice(AS_MARKED, "Measured as marked"), Choice(REVERSED, "A module sits reversed"))
    return LinkItems(
        choice(f"{slug}.last_link_after", "Link that closes last", (), group="Links"),
        _number(f"{slug}.string_cell_v", "Median cell voltage of the string, rested", "V", 0.5, 5,
                group="Links", help="At rest, all modules within 3 degrees of each other."),
        torque_items(f"{slug}.busbar", "Busbar joints", **links),
        equipment(f"{slug}.link_meter", "Voltmeter", ("meter",), group=before["group"]),
        choice(f"{slug}.polarity", "Polarity of every module against its mark", way, **before),
        table(f"{slug}.part_v", "Voltage of each part of the string, end to end", **volts,
              rows=(BELOW, ABOVE), **before, help="Red lead on the end that is marked positive."),
        _number(f"{slug}.gap_v", "Voltage across the gap that the last link will close", **volts,
                **before, help="Both parts float: it has to be small. If not, leave the link off."),
        tick(f"{slug}.last_link", "Last link closed", group="Last link", hold=LINK_HOLD),
        torque_items(f"{slug}.last_busbar", "Last link", group="Last link", hold=LINK_HOLD),
        equipment(f"{slug}.joint_meter", "Milliohm meter", ("milliohm_meter",), **joints),
        _number(f"{slug}.joint_current_a", "Test current", "A", 0.01, 1000, **joints),
        table(f"{slug}.joint_drop_mv", "Voltage drop over each joint", unit="mV", low=-1000,
              high=1000, **joints, help="Every joint undone, and some left alone to compare with."),
    )  # fmt: skip


def link_ends(pack: PackDefinition, link: str) -> tuple[str, ...]:
    """Name the poles that a link joins, as "M9 pos"; one at the end of a section."""
    if link.startswith(START):
        return (f"{link.removeprefix(START)} neg",)
    section = next((names for names in pack.sections() if link in names), (link,))
    after = section[section.index(link) + 1 :]
    return (f"{link} pos", f"{after[0]} neg") if after else (f"{link} pos",)


def link_choices(pack: PackDefinition) -> tuple[Choice, ...]:
    """Give every link that may close last, from pack negative."""
    found = []
    for names in pack.sections():
        for link in (START + names[0], *names):
            label = " to ".join(link_ends(pack, link))
            found.append(Choice(link, label))
    return tuple(found)


def last_positions(pack: PackDefinition, link: str | None) -> tuple[str, ...]:
    """Give the busbar positions of the link that closes last; all where none bears its name."""
    if link is None:
        return ()
    positions = pack.busbar_joints.positions
    return tuple(p for p in positions if p in link_ends(pack, link)) or positions


def asked_links(record: Record, links: LinkItems, undone: Sequence[str]) -> tuple[Item[Any], ...]:
    """Give the link items asked now; what hangs on the last link follows once it is named.

    Parameters
    ----------
    record : Record
        The job as it stands.
    links : LinkItems
        The step's own items.
    undone : Sequence[str]
        Busbar positions that are known to be undone; others may be entered too.

    Returns
    -------
    tuple[Item, ...]
        The items in the order of the work.
    """
    pack = record.pack
    if pack is None:
        return ()
    plan, last = pack.busbar_joints, last_positions(pack, record.get(links.last_after))
    others = tuple(row for row in plan.positions if row not in last)
    first = (replace(links.last_after, choices=link_choices(pack)), links.cell_v)
    if not last:
        return first
    wanted = tuple(row for row in undone if row not in last)
    torque = asked_torque(record, links.others, plan, rows=others, wanted=wanted) if others else ()
    return (
        *first,
        *(replace(item, needed=bool(wanted)) for item in torque),
        links.meter,
        links.polarity,
        links.part_v,
        links.gap_v,
        links.closed,
        *asked_torque(record, links.last, plan, rows=last),
        links.joint_meter,
        links.current,
        replace(links.drops, rows=plan.positions),
    )


def last_link_needs(links: LinkItems) -> tuple[Item[Any], ...]:
    """Give what has to be entered before the last link closes; torque is blocked separately."""
    measured = (links.meter, links.polarity, links.part_v, links.gap_v)
    return (links.last_after, links.cell_v, *measured)


def undone_positions(
    pack: PackDefinition, modules: Sequence[str], links: Sequence[str] = ()
) -> tuple[str, ...]:
    """Give the busbar positions that are undone to take modules out or to open links.

    Parameters
    ----------
    pack : PackDefinition
        The pack.
    modules : Sequence[str]
        Modules taken out.
    links : Sequence[str]
        Modules after which a link was opened.

    Returns
    -------
    tuple[str, ...]
        Positions named after a module taken out, and the far ends of its links; all of the list
        where it names no such module.

    Notes
    -----
    A link that the service disconnect parts is no busbar and is left out.

    Examples
    --------
    >>> from packs.definition import from_toml
    >>> from pathlib import Path
    >>> text = Path("fixtures/packs/delivery-van.toml").read_text(encoding="utf-8")
    >>> undone_positions(from_toml(text), ["M10"])
    ('M9 pos', 'M10 neg', 'M10 pos', 'M11 neg')
    """
    positions = pack.busbar_joints.positions
    parted = {names[-1] for names in pack.sections()[:-1]}
    wanted = {end for link in links if link not in parted for end in link_ends(pack, link)}
    for name in modules:
        own = {p for p in positions if re.search(rf"(?<!\w){re.escape(name)}(?!\w)", p)}
        if not own:
            return positions
        wanted |= own | set(link_ends(pack, name))
        section = next((names for names in pack.sections() if name in names), (name,))
        place = section.index(name)
        wanted |= set(link_ends(pack, section[place - 1])) if place else set()
    return tuple(position for position in positions if position in wanted)
