"""What an instrument of a practice job shows where its leads are put, as a display would.

The leads go where the learner puts them, whatever card it is for. Looks that a real instrument
or a real person would not survive are shown as such and written down (`Shown.danger`).
Not here: what is true at a place (`rig`), what is typed afterwards.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext

from jobs.core.item import EquipmentUsed, qualifier_of
from jobs.core.order import hold_passed, holds_of
from jobs.core.pack_side import PackSide, points_now
from jobs.core.record import Record
from jobs.core.vehicle_side import NOTHING, VehicleSide
from jobs.practice.answers.proof import shown_by
from jobs.practice.bench import Pole
from jobs.practice.room.rig import Rig, Series
from jobs.practice.room.words import ohm_words
from jobs.practice.scene import Scene
from jobs.steps import STEPS
from jobs.steps.de_energise_check.assessment import isolated_at
from jobs.steps.de_energise_check.items import (
    AFTER,
    BEFORE,
    DEAD,
    DISCONNECT,
    INDICATOR,
    UNIT,
    proof_points,
    round_now,
)
from jobs.steps.fault_localisation.items import MODULE_OHM, MODULE_TESTER, READING, SENSE_OFF
from jobs.steps.isolation_readings.items import PACK, REPEAT, VEHICLE
from jobs.steps.reassembly.items import AFTER_LID, BEFORE_LID
from jobs.steps.road_test.items import VEHICLE as ROAD_VEHICLE

__all__ = ["ENCLOSURE", "MODES", "Look", "Place", "Shown", "instrument_of", "look_at", "places_for"]

ENCLOSURE, CHASSIS, UNIT_PLACE = "enclosure", "chassis", "unit"
SHORTED, RESISTOR = "leads", "resistor"
VOLTS, PROOF, OHMS = "volts", "proof", "ohms"
_CHECK_OHM: Final = 1.0e6
_SETTLES_S: Final = 3.2
"""How long a tester counts up in practice; a real one takes a minute [s]."""

_SIDES: Final[tuple[PackSide, ...]] = (PACK, BEFORE_LID, AFTER_LID)
_VEHICLE_SIDES: Final[tuple[VehicleSide, ...]] = (VEHICLE, ROAD_VEHICLE)
MODES: Final[Mapping[str, str]] = {
    **{item.key: VOLTS for side in _SIDES for item in (side.reading, side.settling)},
    READING.key: VOLTS,
    **dict.fromkeys((BEFORE.key, DEAD.key, AFTER.key), PROOF),
    **{item.key: OHMS for side in _VEHICLE_SIDES for item in (side.reading, side.lead_proof)},
    REPEAT.key: OHMS,
    MODULE_OHM.key: OHMS,
}
"""Cards whose reading is taken with leads on the screen, and with what kind of instrument."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Where the leads are put, for which card.

    Attributes
    ----------
    item, qualifier : str
        The card.
    red, black : str
        Places of the leads (`Place.code`).
    shunt : bool
        Whether the shunt is fitted.
    unplugged : str
        Part of the vehicle that is unplugged; "nothing" for none.
    """

    item: str
    qualifier: str = ""
    red: str
    black: str
    shunt: bool = False
    unplugged: str = NOTHING


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What a display shows: figures over time, or why it shows none.

    Attributes
    ----------
    frames : tuple[tuple[float, str], ...]
        Seconds since the leads were put on, and what stands on the display.
    unit : str
        Unit on the display, where the figure does not carry it.
    said : str
        What is said beside the display.
    battery : bool
        Whether the sign for an empty battery stands on it.
    danger : str
        Code of what a real person or instrument would not have survived; empty for none.
    """

    frames: tuple[tuple[float, str], ...] = ()
    unit: str = ""
    said: str = ""
    battery: bool = False
    danger: str = ""

    @property
    def last(self) -> str:
        """What stands on the display in the end."""
        return self.frames[-1][1] if self.frames else ""


@dataclass(frozen=True, slots=True)
class Place:
    """A place where a lead can be put: code, words, and the module it is drawn at."""

    code: str
    label: str
    module: str = ""
    pole: str = ""


def _refused(said: str, danger: str = "") -> Shown:
    return Shown(said=said, danger=danger)


def _pole_code(module: str, pole: str) -> str:
    return f"pole:{module}:{pole}"


def _poles(scene: Scene, record: Record) -> tuple[Place, ...]:
    """Give the poles of the string that can be touched with the lid as it is."""
    marks = {"pos": "+", "neg": "−"}
    if record.pack_open:
        return tuple(
            Place(_pole_code(each.name, pole), f"{each.name} {marks[pole]}", each.name, pole)
            for each in scene.pack.modules
            for pole in ("neg", "pos")
        )
    return tuple(
        Place(_pole_code(each.module, each.pole), each.name, each.module, each.pole)
        for each in points_now(record)
    )


def _cables() -> tuple[Place, ...]:
    return (
        Place("cable:pos", gettext("Positive cable")),
        Place("cable:neg", gettext("Negative cable")),
        Place(CHASSIS, gettext("Chassis")),
        Place(SHORTED, gettext("Leads on each other")),
        Place(RESISTOR, gettext("Check resistor, 1 MΩ")),
    )


def _proof_places(record: Record) -> tuple[Place, ...]:
    found = [Place(UNIT_PLACE, gettext("Proving unit"))]
    for at, point in enumerate(proof_points(record)):
        found += [
            Place(f"proof:{at}:pos", gettext("{point}, positive").format(point=point.name)),
            Place(f"proof:{at}:neg", gettext("{point}, negative").format(point=point.name)),
        ]
    return (*found, Place(CHASSIS, gettext("Chassis")))


def places_for(scene: Scene, key: str) -> tuple[Place, ...]:
    """Give the places where the leads of an instrument can be put for a card."""
    record = scene.record()
    match MODES.get(key):
        case "volts":
            return (*_poles(scene, record), Place(ENCLOSURE, gettext("Enclosure")))
        case "proof":
            return _proof_places(record)
        case "ohms" if key == MODULE_OHM.key:
            return (*_poles(scene, record), Place(ENCLOSURE, gettext("Enclosure")))
        case "ohms":
            return _cables()
        case _:
            return ()


def _side_of(key: str) -> PackSide:
    own = (each for each in _SIDES if key in {each.reading.key, each.settling.key})
    return next(own, PACK)


def before_hold(record: Record, key: str) -> str:
    """Tell that live parts are read before the hold point that stands before them."""
    for step in STEPS:
        item = next((each for each in step.items(record) if each.key == key), None)
        if item is None or not item.hold:
            continue
        holds = (h for h in holds_of(step, record) if h.slug == item.hold)
        return "" if any(hold_passed(record, step, hold) for hold in holds) else "before_hold"
    return ""


def _where(code: str, record: Record, rig: Rig, shunt: EquipmentUsed | None) -> Pole | None:
    """Give the pole of a place; None for any other place."""
    kind, _, rest = code.partition(":")
    module, _, pole = rest.partition(":")
    if kind != "pole":
        return None
    return Pole(module=module, pole=pole, open_after=rig.links_open(record), shunt=shunt)


def _figures(
    series: Series, sign: float, digits: int, rated_v: float
) -> tuple[tuple[float, str], ...]:
    """Write what a display shows; beyond its rating it says so."""
    return tuple(
        (round(t, 2), "OL" if abs(volts) > rated_v else f"{sign * volts + 0.0:.{digits}f}")
        for t, volts in series
    )


def _steady_v(rig: Rig, used: EquipmentUsed, true_v: float, danger: str) -> Shown:
    frames = _figures(rig.steady(used, true_v), 1.0, 2, used.number("rated_v", 1000.0))
    return Shown(frames=frames, unit="V", battery=rig.is_flat(used), danger=danger)


def _volts(rig: Rig, record: Record, look: Look) -> Shown:
    """Show what a voltmeter does with its leads at poles and enclosure."""
    side = _side_of(look.item)
    used, shunt = record.get(side.meter), record.get(side.shunt)
    if used is None:
        return _refused(gettext("Pick the voltmeter on its card first."))
    if look.shunt and shunt is None:
        return _refused(gettext("Pick the shunt resistor on its card first."))
    if not record.has(DISCONNECT):
        return _refused(gettext("The disconnect is in: its socket cannot be reached."))
    fitted = shunt if look.shunt else None
    red, black = (_where(each, record, rig, fitted) for each in (look.red, look.black))
    danger = before_hold(record, look.item)
    if red is not None and black is not None:
        between = rig.between_poles_v(red, black)
        return _steady_v(rig, used, 0.0 if between is None else between, danger)
    at = red or black
    if at is None:
        return _steady_v(rig, used, 0.0, "")
    series = rig.pole_series(record, used, at)
    frames = _figures(series, 1.0 if red else -1.0, 2, used.number("rated_v", 1000.0))
    return Shown(frames=frames, unit="V", battery=rig.is_flat(used), danger=danger)


def _proof_v(rig: Rig, record: Record, look: Look) -> float | None:
    """Give the true voltage between two places of the proof; None where it is none of them."""
    heights: list[tuple[str, float]] = []
    for code in (look.red, look.black):
        kind, _, rest = code.partition(":")
        point, _, pole = rest.partition(":")
        if kind not in {"proof", CHASSIS}:
            return None
        height = 0.0 if kind == CHASSIS else 0.5 if pole == "pos" else -0.5
        heights.append((point if kind == "proof" else "", height))
    # The two conductors of all points hang together; to chassis they float half way.
    return (heights[0][1] - heights[1][1]) * rig.link_v(record)


def _second_proof(record: Record) -> bool:
    """Tell whether the points of this round have been read."""
    now = round_now(record)
    return any(given.part("round") == now for given in record.all(DEAD))


def _proof(scene: Scene, rig: Rig, record: Record, look: Look) -> Shown:
    """Show what a two-pole indicator does at the proving unit and at the points."""
    place = qualifier_of(round=round_now(record))
    used, unit = record.get(INDICATOR, place), record.get(UNIT, place)
    if used is None:
        return _refused(gettext("Pick the two-pole indicator on its card first."))
    if look.red == look.black == UNIT_PLACE:
        if unit is None:
            return _refused(gettext("Pick the proving unit on its card first."))
        true_v = unit.number("output_v")
        if rig.is_flat(used) and rig.hidden.flat_mode == "proof" and _second_proof(record):
            true_v *= 0.3
    else:
        between = _proof_v(rig, record, look)
        if between is None:
            return _refused(gettext("Both leads on the proving unit, or both at the circuit."))
        true_v = between
    shown = shown_by(scene, used, true_v)
    live = look.red != UNIT_PLACE and isolated_at(record) is None
    flat = rig.is_flat(used) and _second_proof(record)
    frames = ((0.0, "0.0"), (0.6, shown))
    return Shown(frames=frames, unit="V", battery=flat, danger="not_isolated" if live else "")


def _counted(text: str) -> tuple[tuple[float, str], ...]:
    return ((0.0, "– – –"), (0.8, "· · ·"), (_SETTLES_S, text))


def _tester_of(record: Record, key: str) -> EquipmentUsed | None:
    if key == MODULE_OHM.key:
        return record.get(MODULE_TESTER)
    own = (each for each in _VEHICLE_SIDES if key in {each.reading.key, each.lead_proof.key})
    return record.get(next(own, VEHICLE).tester)


def _by_itself(rig: Rig, record: Record, used: EquipmentUsed, look: Look) -> Shown:
    """Show what a tester does at a module of the open pack."""
    at = _where(look.red, record, rig, None) or _where(look.black, record, rig, None)
    if at is None or ENCLOSURE not in {look.red, look.black}:
        return _refused(gettext("One lead on a pole, the other on the enclosure."))
    if not record.has(SENSE_OFF):
        said = gettext("Stop: sense leads are on. A real tester would destroy what hangs on them.")
        return _refused(said, "tester_on_string")
    shown = rig.tester(rig.section_ohm(record, at.module), used)
    danger = before_hold(record, look.item)
    return Shown(frames=_counted(ohm_words(shown)), danger=danger)


def _ohms(rig: Rig, record: Record, look: Look) -> Shown:
    """Show what an insulation tester does."""
    used = _tester_of(record, look.item)
    if used is None:
        return _refused(gettext("Pick the insulation tester on its card first."))
    if look.item == MODULE_OHM.key:
        return _by_itself(rig, record, used, look)
    return _at_cables(rig, record, used, look)


def _at_cables(rig: Rig, record: Record, used: EquipmentUsed, look: Look) -> Shown:
    """Show what a tester does at its own leads and on the vehicle's cables."""
    places = {look.red, look.black}
    if places == {SHORTED}:
        return Shown(frames=_counted("150 Ω"))
    if places == {RESISTOR}:
        return Shown(frames=_counted(ohm_words(rig.near(_CHECK_OHM, 2.0, 0))))
    cables = places & {"cable:pos", "cable:neg"}
    if len(cables) != 1 or CHASSIS not in places:
        return _refused(gettext("One lead on a cable, the other on the chassis."))
    if isolated_at(record) is None or not record.proof_holds():
        said = gettext("Stop: the circuit is not proven dead. A tester never goes on it then.")
        return _refused(said, "tester_unproven")
    shown = rig.vehicle_ohm(record, look.unplugged, used)
    return Shown(frames=_counted(ohm_words(shown)))


def instrument_of(record: Record, key: str, at: str) -> EquipmentUsed | None:
    """Give the instrument that was picked for a card; `at` is the round of the proof now."""
    match MODES.get(key):
        case "volts":
            return record.get(_side_of(key).meter)
        case "proof":
            return record.get(INDICATOR, at)
        case "ohms":
            return _tester_of(record, key)
        case _:
            return None


def look_at(scene: Scene, rig: Rig, look: Look) -> Shown:
    """Give what the instrument of a card shows with its leads where they are.

    Parameters
    ----------
    scene : Scene
        The practice job.
    rig : Rig
        Its bench at this look.
    look : Look
        Where the leads are.

    Returns
    -------
    Shown
        Figures over time; none, with a sentence, where nothing can be shown.
    """
    record = scene.record()
    known = {each.code for each in places_for(scene, look.item)}
    if look.red not in known or look.black not in known:
        return _refused(gettext("A lead cannot be put there now."))
    ways: Mapping[str, Callable[[], Shown]] = {
        VOLTS: lambda: _volts(rig, record, look),
        PROOF: lambda: _proof(scene, rig, record, look),
        OHMS: lambda: _ohms(rig, record, look),
    }
    return ways[MODES[look.item]]()
