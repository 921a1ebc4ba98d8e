"""What the instruments of the later steps show: torque, gaps, joints, bonding, cells, seal test.

A tool is held to one spot, or its two leads are put somewhere; the reading is the colleague's
(`colleague.what_is_read`), as it shows at that spot. Not here: meters and testers at the string
and the cables (`looking`).
"""

from copy import deepcopy
from dataclasses import dataclass
from typing import Any, Final

from django.utils.translation import gettext

from jobs.core.item import Item
from jobs.core.links import LinkItems
from jobs.core.order import find_item
from jobs.core.reason import InputRefused
from jobs.practice.room.colleague import what_is_read
from jobs.practice.room.looking import CHASSIS, Look, Place, Shown, before_hold
from jobs.practice.room.words import ohm_words
from jobs.practice.scene import Scene
from jobs.steps import STEPS
from jobs.steps.module_swap.items import GAP, REMOVED_V, SPARE_OHM, SPARES, TIE
from jobs.steps.module_swap.items import LINKS as SWAP_LINKS
from jobs.steps.reassembly.items import LID
from jobs.steps.reassembly.items import LINKS as OWN_LINKS
from jobs.steps.road_test.items import BONDING, MOUNTS
from jobs.steps.seal_test.items import GAUGE, SAMPLE, THERMOMETER, sample_sheet

__all__ = ["TOOLS", "Tool", "gauge_at", "spots_for"]

POS, NEG, ONE = "end:pos", "end:neg", "spot"
_SAMPLED: Final = {"gauge": (1, "Pa"), "thermometer": (2, "°C"), "barometer": (3, "hPa")}
"""Which column of a seal test's samples an instrument shows, and its unit."""
_UNITS: Final = {"ohm": "Ω", "degC": "°C"}


@dataclass(frozen=True, slots=True)
class Tool:
    """An instrument of the later steps.

    Attributes
    ----------
    name : str
        What it is, and how it is held.
    leads : int
        2: two leads are put somewhere; 1: it is held to one spot.
    """

    name: str
    leads: int = 1


_TORQUE: Final = Tool("Torque tool: tap the bolt")
_VOLTS: Final = Tool("Voltmeter", 2)


def _of_links(links: LinkItems) -> dict[str, Tool]:
    return {
        links.others.values.key: _TORQUE,
        links.last.values.key: _TORQUE,
        links.drops.key: Tool("Millivolt meter, a prod on each side: tap the joint"),
        links.part_v.key: Tool("Voltmeter, across the part: tap the part"),
        links.cell_v.key: _VOLTS,
        links.gap_v.key: _VOLTS,
    }


TOOLS: Final[dict[str, Tool]] = {
    **_of_links(SWAP_LINKS),
    **_of_links(OWN_LINKS),
    **{items.values.key: _TORQUE for items in (TIE, LID, MOUNTS)},
    **dict.fromkeys((e.key for e in (REMOVED_V, SPARES.cell_v, SPARES.again_v)), _VOLTS),
    SPARES.watch_v.key: _VOLTS,
    SPARE_OHM.key: Tool("Insulation tester", 2),
    GAP.key: Tool("Feeler gauge: tap the place"),
    BONDING.key: Tool("Milliohm meter", 2),
    SAMPLE.key: Tool("Gauges of the seal test: tap one"),
}
"""Cards whose reading is taken with a tool on the screen."""


def _item(scene: Scene, key: str) -> Item[Any] | None:
    found = find_item(STEPS, scene.record(), key)
    return None if found is None else found[1]


def spots_for(scene: Scene, key: str) -> tuple[Place, ...]:
    """Give where the tool of a card can be held, or its leads put."""
    item = _item(scene, key)
    if key == SAMPLE.key:
        return (
            Place("gauge", gettext("Pressure gauge")),
            Place("thermometer", gettext("Thermometer in the gas")),
            Place("barometer", gettext("Barometer")),
        )
    rows = () if item is None else tuple(Place(f"row:{row}", row) for row in item.rows)
    if key == BONDING.key:
        return (*rows, Place(CHASSIS, gettext("Chassis")))
    if key == SPARE_OHM.key:
        return (Place(POS, gettext("Terminal")), Place(NEG, gettext("Housing")))
    if TOOLS[key].leads > 1:
        return (Place(POS, gettext("Positive end")), Place(NEG, gettext("Negative end")))
    return rows


def _shows(text: str, unit: str, *, said: str = "", danger: str = "") -> Shown:
    frames = ((0.0, "– – –"), (0.8, text))
    return Shown(frames=frames, unit=_UNITS.get(unit, unit), said=said, danger=danger)


def _sampled(scene: Scene, place: str) -> Shown:
    """Show a gauge of the seal test as it stands at this moment of the test."""
    record = scene.record()
    if place not in _SAMPLED:
        return Shown()
    if not (record.has(GAUGE) and record.has(THERMOMETER)):
        return Shown(said=gettext("Pick pressure gauge and thermometer on their cards first."))
    column, unit = _SAMPLED[place]
    began = sample_sheet(record).started_at
    since_s = 0.0 if began is None else max(0.0, (record.now - began).total_seconds())
    rows = deepcopy(scene.bench).pressure(scene.picked(GAUGE), duration_s=since_s)
    row = min(rows, key=lambda each: abs(float(each[0]) - since_s))
    # The barometer shows the unit in which its card is typed.
    text = f"{float(row[column]) / 100.0:.1f}" if unit == "hPa" else row[column]
    return _shows(text, unit)


def _across(look: Look, item: Item[Any], raw: object) -> str | None:
    """Give what shows between two leads; None where they are at nothing that belongs together."""
    ends = {look.red, look.black}
    if isinstance(raw, dict):
        row = next((e.removeprefix("row:") for e in ends if e.startswith("row:")), "")
        return str(raw[row]) if CHASSIS in ends and row in raw else None
    if ends != {POS, NEG}:
        return None
    if item.key == SPARE_OHM.key:
        return ohm_words(str(raw))
    return str(raw) if look.red == POS else f"−{raw}"


def _at_spot(look: Look, raw: object) -> str | None:
    row = look.red.removeprefix("row:")
    return str(raw[row]) if isinstance(raw, dict) and row in raw else None


def gauge_at(scene: Scene, look: Look) -> Shown:
    """Give what a tool shows where it is held.

    Parameters
    ----------
    scene : Scene
        The practice job.
    look : Look
        The card, and where the leads are; a tool held to one spot has it in `red`.

    Returns
    -------
    Shown
        Figure and unit, or why it shows none; `danger` where live parts are touched before the
        hold point that stands before them.
    """
    if look.item == SAMPLE.key:
        return _sampled(scene, look.red)
    item, two = _item(scene, look.item), TOOLS[look.item].leads > 1
    if item is None:
        return Shown(said=gettext("This is not asked now."))
    danger = before_hold(scene.record(), look.item)
    try:
        raw, _took = what_is_read(scene, look.item, look.qualifier)
    except InputRefused:
        said = gettext("Nothing shows yet: pick the instrument first, and do what comes before.")
        return Shown(said=said, danger=danger)
    text = _across(look, item, raw) if two else _at_spot(look, raw)
    if text is None:
        wrong = gettext("Nothing that can be read: put the leads at the two ends.")
        left = gettext("Left as it is: this one was not undone.")
        return Shown(said=wrong if two else left, danger=danger)
    held = "" if two else gettext("Held at {place}.").format(place=look.red.removeprefix("row:"))
    unit = "" if item.key == SPARE_OHM.key else item.unit
    return _shows(text, unit, said=held, danger=danger)
