"""One repaired van, step by step, for tests that change a part of it."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from jobs.core.links import link_choices
from jobs.core.torque import TorqueItems
from jobs.steps.fault_localisation.items import ANSWER as FOUND_ANSWER
from jobs.steps.fault_localisation.items import CAPPED as FOUND_CAPPED
from jobs.steps.fault_localisation.items import LEAKING as FOUND_LEAKING
from jobs.steps.fault_localisation.items import LID_OFF as FOUND_LID_OFF
from jobs.steps.fault_localisation.items import LINK_OPENED as FOUND_LINK_OPENED
from jobs.steps.fault_localisation.items import OUTCOME as FOUND_OUTCOME
from jobs.steps.fault_localisation.items import SEEN as FOUND_SEEN
from jobs.steps.intake.items import ARRIVED as INTAKE_ARRIVED
from jobs.steps.intake.items import VEHICLE as INTAKE_VEHICLE
from jobs.steps.isolation_readings.items import OUTCOME as READ_OUTCOME
from jobs.steps.isolation_readings.items import PACK as READ_PACK
from jobs.steps.module_swap.items import CONDITION as SWAP_CONDITION
from jobs.steps.module_swap.items import GAP as SWAP_GAP
from jobs.steps.module_swap.items import LEADS as SWAP_LEADS
from jobs.steps.module_swap.items import LEAKING as SWAP_LEAKING
from jobs.steps.module_swap.items import LINKS as SWAP_LINKS
from jobs.steps.module_swap.items import LIVE as SWAP_LIVE
from jobs.steps.module_swap.items import LIVE_HOLD as SWAP_LIVE_HOLD
from jobs.steps.module_swap.items import QUARANTINE_CLASS as SWAP_QUARANTINE_CLASS
from jobs.steps.module_swap.items import QUARANTINE_PLACE as SWAP_QUARANTINE_PLACE
from jobs.steps.module_swap.items import REMOVED_SERIAL as SWAP_REMOVED_SERIAL
from jobs.steps.module_swap.items import REMOVED_V as SWAP_REMOVED_V
from jobs.steps.module_swap.items import REST_H as SWAP_REST_H
from jobs.steps.module_swap.items import SEATED as SWAP_SEATED
from jobs.steps.module_swap.items import SLUG as SWAP_SLUG
from jobs.steps.module_swap.items import SPARE as SWAP_SPARE
from jobs.steps.module_swap.items import SPARE_CELL_V as SWAP_SPARE_CELL_V
from jobs.steps.module_swap.items import SPARE_OHM as SWAP_SPARE_OHM
from jobs.steps.module_swap.items import TEST_V as SWAP_TEST_V
from jobs.steps.module_swap.items import TESTER as SWAP_TESTER
from jobs.steps.module_swap.items import TIE as SWAP_TIE
from jobs.steps.module_swap.items import WATCH_STARTED as SWAP_WATCH_STARTED
from jobs.steps.reassembly.items import AFTER_LID as BUILD_AFTER_LID
from jobs.steps.reassembly.items import BEFORE_LID as BUILD_BEFORE_LID
from jobs.steps.reassembly.items import CAUSE as BUILD_CAUSE
from jobs.steps.reassembly.items import COOLANT_END as BUILD_COOLANT_END
from jobs.steps.reassembly.items import COOLANT_GAUGE as BUILD_COOLANT_GAUGE
from jobs.steps.reassembly.items import COOLANT_MIN as BUILD_COOLANT_MIN
from jobs.steps.reassembly.items import COOLANT_START as BUILD_COOLANT_START
from jobs.steps.reassembly.items import FACES as BUILD_FACES
from jobs.steps.reassembly.items import GASKET as BUILD_GASKET
from jobs.steps.reassembly.items import INTERLOCK as BUILD_INTERLOCK
from jobs.steps.reassembly.items import LID as BUILD_LID
from jobs.steps.reassembly.items import LID_HOLD as BUILD_LID_HOLD
from jobs.steps.reassembly.items import LID_ON as BUILD_LID_ON
from jobs.steps.reassembly.items import LIVE as BUILD_LIVE
from jobs.steps.reassembly.items import LIVE_HOLD as BUILD_LIVE_HOLD
from jobs.steps.reassembly.items import PARTS_IN as BUILD_PARTS_IN
from jobs.steps.reassembly.items import PARTS_OUT as BUILD_PARTS_OUT
from jobs.steps.reassembly.items import REPAIRED as BUILD_REPAIRED
from jobs.steps.reassembly.items import SECOND as BUILD_SECOND
from jobs.steps.reassembly.items import SENSE_LEADS as BUILD_SENSE_LEADS
from jobs.steps.reassembly.items import SLUG as BUILD_SLUG
from jobs.steps.road_test.items import AFTER_24H as ROAD_AFTER_24H
from jobs.steps.road_test.items import BONDING as ROAD_BONDING
from jobs.steps.road_test.items import BONDING_A as ROAD_BONDING_A
from jobs.steps.road_test.items import BONDING_METER as ROAD_BONDING_METER
from jobs.steps.road_test.items import CHARGED as ROAD_CHARGED
from jobs.steps.road_test.items import CLEARED as ROAD_CLEARED
from jobs.steps.road_test.items import CODED as ROAD_CODED
from jobs.steps.road_test.items import CODES as ROAD_CODES
from jobs.steps.road_test.items import CODES_STORED as ROAD_CODES_STORED
from jobs.steps.road_test.items import CONNECTORS as ROAD_CONNECTORS
from jobs.steps.road_test.items import COOLANT as ROAD_COOLANT
from jobs.steps.road_test.items import DISCONNECT as ROAD_DISCONNECT
from jobs.steps.road_test.items import DRIVE_KM as ROAD_DRIVE_KM
from jobs.steps.road_test.items import DRIVE_MIN as ROAD_DRIVE_MIN
from jobs.steps.road_test.items import HOLD as ROAD_HOLD
from jobs.steps.road_test.items import HOT as ROAD_HOT
from jobs.steps.road_test.items import INTERLOCK as ROAD_INTERLOCK
from jobs.steps.road_test.items import MOUNTS as ROAD_MOUNTS
from jobs.steps.road_test.items import REVISIT_ON as ROAD_REVISIT_ON
from jobs.steps.road_test.items import SECOND as ROAD_SECOND
from jobs.steps.road_test.items import SLUG as ROAD_SLUG
from jobs.steps.road_test.items import SPREAD_C as ROAD_SPREAD_C
from jobs.steps.road_test.items import SPREAD_LOAD as ROAD_SPREAD_LOAD
from jobs.steps.road_test.items import SPREAD_REST as ROAD_SPREAD_REST
from jobs.steps.road_test.items import SPREAD_TOP as ROAD_SPREAD_TOP
from jobs.steps.road_test.items import SUPPLY as ROAD_SUPPLY
from jobs.steps.road_test.items import TOOLS as ROAD_TOOLS
from jobs.steps.road_test.items import VEHICLE as ROAD_VEHICLE
from jobs.steps.seal_test.items import CAPS_IN as SEAL_CAPS_IN
from jobs.steps.seal_test.items import CAPS_OUT as SEAL_CAPS_OUT
from jobs.steps.seal_test.items import GAUGE as SEAL_GAUGE
from jobs.steps.seal_test.items import SAMPLES as SEAL_SAMPLES
from jobs.steps.seal_test.items import SETTLED_S as SEAL_SETTLED_S
from jobs.steps.seal_test.items import SOURCE as SEAL_SOURCE
from jobs.steps.seal_test.items import THERMOMETER as SEAL_THERMOMETER
from packs.definition import TorqueList
from tests.builders import ASTER, MUNK, Bench, a_bench, an_equipment

CELL_V, METER_OHM, SHUNT_OHM = 3.6, 1e7, 2e5

METER = an_equipment(
    "meter", input_ohm=1e7, input_tolerance_percent=1.0, accuracy_percent=0.5, accuracy_counts=2,
    resolution_v=0.01, rated_v=1000.0,
)  # fmt: skip
SHUNT = an_equipment("shunt", ohm=SHUNT_OHM, tolerance_percent=1.0, rated_v=1000.0, rated_w=2.0)
GLOVES = an_equipment("gloves", glove_class="0", max_dc_v=1000.0)
SHIELD = an_equipment("face_shield", due_on=None)
SMALL_TOOL = an_equipment("torque_tool", low_nm=2.0, high_nm=25.0, tolerance_percent=4.0)
LARGE_TOOL = an_equipment("torque_tool", low_nm=20.0, high_nm=200.0, tolerance_percent=4.0)
MILLIOHM = an_equipment(
    "milliohm_meter", accuracy_percent=0.2, accuracy_counts=2, resolution_mv=0.001, current_a=100.0
)
TESTER = an_equipment(
    "insulation_tester", test_voltages_v=[250.0, 500.0, 1000.0], accuracy_percent=5.0,
    rated_v=1000.0,
)  # fmt: skip
GAUGE = an_equipment("pressure_gauge", resolution_pa=1.0, repeatability_pa=1.0, range_pa=2e5)
THERMOMETER = an_equipment("thermometer", u_c=0.02)
SPARE = {
    "id": "00000000-0000-4000-8000-0000000000aa", "serial": "S-4471", "part": "OB-M6-120",
    "chemistry": "nmc", "cells": 6, "capacity_ah": 118.0, "resistance_mohm": 6.1, "cell_v": 3.6,
    "quarantined": False, "provenance": "Dismantled van, own stock", "place": "Shelf 3",
}  # fmt: skip

SIDE_A, SIDE_B = "Disconnect socket, side A", "Disconnect socket, side B"
NEGATIVE, POSITIVE = "String negative", "String positive"
_CLOSED, _SECTION_V = {SIDE_A: 1.0, SIDE_B: -1.0}, 42 * CELL_V
_EVERY = {**_CLOSED, NEGATIVE: -1.0, POSITIVE: 1.0}


def shown(offset_v: float, leak_ohm: float, *, shunt: bool = False) -> str:
    """Give what the meter shows at a pole that lies `offset_v` from the section's leak."""
    across = METER_OHM * SHUNT_OHM / (METER_OHM + SHUNT_OHM) if shunt else METER_OHM
    return f"{offset_v * across / (across + leak_ohm):.2f}"


def hold(bench: Bench, step: str, name: str) -> None:
    """Pass a hold point without asking."""
    bench.hold(step, name)


def torque(
    bench: Bench, items: TorqueItems, plan: TorqueList, rows: Iterable[str], **place: str
) -> None:
    """Tighten bolts at every stage, each on its target."""
    tool = LARGE_TOOL if plan.stages[-1].target_nm > 25 else SMALL_TOOL
    bench.put(items.tool, tool, stage="1")
    for number, stage in enumerate(plan.stages, start=1):
        values = dict.fromkeys(rows, str(stage.target_nm))
        bench.put(items.values, values, stage=str(number), **place)
    if plan.replace_bolts:
        bench.put(items.bolts)


def live_work(bench: Bench, live: Any) -> None:
    """Put on gloves and shield, with a second person."""
    bench.put(live.gloves, GLOVES)
    bench.put(live.air_test)
    bench.put(live.shield, SHIELD)
    bench.put(live.second, by=MUNK)


def localised(module: str | None = "M10", *, wet: bool = True) -> Bench:
    """Give a van whose pack is open and whose leaking module, if any, is named."""
    bench = a_bench()
    bench.put(INTAKE_ARRIVED, INTAKE_VEHICLE)
    side = READ_PACK
    bench.put(side.meter, METER)
    bench.put(side.shunt, SHUNT)
    bench.put(side.string_v, str(84 * CELL_V))
    bench.put(side.reading, "0.00", point=SIDE_A, shunt="none")
    for fitted in (False, True):
        name = "fitted" if fitted else "none"
        bench.put(side.reading, shown(-54.0, 4e4, shunt=fitted), point=SIDE_B, shunt=name)
    for point in (SIDE_A, SIDE_B):
        bench.put(side.settled, point=point)
    bench.put(READ_OUTCOME, "pack")
    bench.put(FOUND_ANSWER, "approved")
    bench.put(FOUND_CAPPED)
    bench.put(FOUND_LID_OFF)
    bench.put(FOUND_SEEN, what="coolant" if wet else "nothing")
    bench.put(FOUND_LINK_OPENED, after="M9")
    bench.put(FOUND_LINK_OPENED, after="M10")
    bench.put(FOUND_OUTCOME, "pack_not_module" if module is None else "module")
    if module is not None:
        bench.put(FOUND_LEAKING, module=module)
    for slug in ("intake", "de_energise_check", "isolation_readings", "fault_localisation"):
        bench.sign(slug, by=MUNK if slug == "fault_localisation" else ASTER)
    return bench


def leaking(pack: str, *modules: str) -> Bench:
    """Give a job on one of the demo packs whose leaking modules are ticked, nothing else."""
    bench = a_bench(pack)
    bench.put(READ_OUTCOME, "pack")
    bench.put(FOUND_ANSWER, "approved")
    bench.put(FOUND_LID_OFF)
    bench.put(FOUND_OUTCOME, "module")
    for module in modules:
        bench.put(FOUND_LEAKING, module=module)
    return bench


def module_out_and_spare(bench: Bench, module: str = "M10") -> None:
    """Take the module out and match a spare."""
    at = {"module": module}
    live_work(bench, SWAP_LIVE)
    hold(bench, SWAP_SLUG, SWAP_LIVE_HOLD)
    bench.put(SWAP_REMOVED_V, "21.6", **at)
    bench.put(SWAP_REMOVED_SERIAL, "S-1010", **at)
    bench.put(SWAP_CONDITION, "wet", **at)
    bench.put(SWAP_QUARANTINE_PLACE, "Mesh crate, yard", **at)
    bench.put(SWAP_QUARANTINE_CLASS, SWAP_LEAKING, **at)
    bench.put(SWAP_WATCH_STARTED, **at)
    bench.put(SWAP_SPARE, SPARE, **at)
    bench.put(SWAP_TESTER, TESTER)
    bench.put(SWAP_TEST_V, "500")
    bench.put(SWAP_LEADS)
    for pole in ("pos", "neg"):
        bench.put(SWAP_SPARE_OHM, ">550M", **at, pole=pole)
    bench.put(SWAP_REST_H, "30", **at)
    bench.put(SWAP_SPARE_CELL_V, "3.604", **at)
    bench.put(SWAP_SEATED, **at)


def close_links(bench: Bench, links: Any, step: str) -> None:
    """Close the links at M9 and M10, the one after M10 last."""
    pack = bench.record().pack
    assert pack is not None
    plan = pack.busbar_joints
    bench.put(links.cell_v, str(CELL_V))
    bench.put(replace(links.last_after, choices=link_choices(pack)), "M10")
    torque(bench, links.others, plan, ("M9 pos", "M10 neg"))
    bench.put(links.meter, METER)
    bench.put(links.polarity, "as_marked")
    parts = {"Part on the negative side": "64.9", "Part on the positive side": "86.2"}
    bench.put(links.part_v, parts)
    bench.put(links.gap_v, "1.2")
    hold(bench, step, "last_link")
    bench.put(links.closed)
    torque(bench, links.last, plan, ("M10 pos", "M11 neg"))
    bench.put(links.joint_meter, MILLIOHM)
    bench.put(links.current, "100")
    drops = ("1.50", "1.52", "1.48", "1.55", "1.51")
    joints = ("M9 pos", "M10 neg", "M10 pos", "M11 neg", "M12 pos")
    bench.put(links.drops, dict(zip(joints, drops, strict=True)))


def swapped(module: str = "M10") -> Bench:
    """Give a van whose module is replaced, the step not signed."""
    bench = localised(module)
    pack = bench.record().pack
    assert pack is not None
    module_out_and_spare(bench, module)
    bench.put(SWAP_GAP, dict.fromkeys(pack.stack.gap_points, "612.1"), module=module)
    bolts = pack.stack.tie_bolts
    assert bolts is not None
    torque(bench, SWAP_TIE, bolts, bolts.positions, module=module)
    close_links(bench, SWAP_LINKS, SWAP_SLUG)
    return bench


def isolation(bench: Bench, side: Any, points: dict[str, float], leak_ohm: float = 2e7) -> None:
    """Read the pack's side; the leakage lies in the middle of each section."""
    if not bench.record().has(side.meter):
        bench.put(side.meter, METER)
        bench.put(side.shunt, SHUNT)
    bench.put(side.string_v, str(84 * CELL_V))
    for point, sign in points.items():
        for fitted in (False, True):
            name = "fitted" if fitted else "none"
            volts = shown(sign * _SECTION_V / 2, leak_ohm, shunt=fitted)
            bench.put(side.reading, volts, point=point, shunt=name)
        bench.put(side.settled, point=point)


def before_lid(bench: Bench, leak_ohm: float = 2e7) -> None:
    """Do everything of reassembly that comes before the lid, links excepted."""
    live_work(bench, BUILD_LIVE)
    bench.put(BUILD_BEFORE_LID.meter, METER)
    bench.put(BUILD_BEFORE_LID.shunt, SHUNT)
    hold(bench, BUILD_SLUG, BUILD_LIVE_HOLD)
    bench.put(BUILD_CAUSE, "A chafed coolant hose above M10")
    bench.put(BUILD_REPAIRED)
    bench.put(BUILD_COOLANT_GAUGE, GAUGE)
    bench.put(BUILD_COOLANT_START, "152")
    bench.put(BUILD_COOLANT_END, "151.4")
    bench.put(BUILD_COOLANT_MIN, "15")
    bench.put(BUILD_SENSE_LEADS)
    bench.put(BUILD_INTERLOCK)
    bench.put(BUILD_PARTS_OUT, "46")
    bench.put(BUILD_PARTS_IN, "46")
    isolation(bench, BUILD_BEFORE_LID, _EVERY, leak_ohm)


def lid_on(bench: Bench, leak_ohm: float = 2e7) -> None:
    """Put the lid on and read isolation again."""
    pack = bench.record().pack
    assert pack is not None
    hold(bench, BUILD_SLUG, BUILD_LID_HOLD)
    bench.put(BUILD_FACES)
    bench.put(BUILD_GASKET, "OB-G-31, lot 7")
    bench.put(BUILD_LID_ON)
    bolts = pack.lid.bolts
    assert bolts is not None
    torque(bench, BUILD_LID, bolts, bolts.positions)
    isolation(bench, BUILD_AFTER_LID, _CLOSED, leak_ohm)
    bench.put(BUILD_SECOND, by=MUNK)


def reassembled() -> Bench:
    """Give a van whose pack is closed again, the step not signed."""
    bench = swapped()
    bench.sign("module_swap")
    before_lid(bench)
    lid_on(bench)
    return bench


def samples(leak_ml_per_min: float = 5.0, *, seconds: int = 600) -> list[list[str]]:
    """Give a pressure decay of the van's 62 l at an even temperature."""
    fall_pa_per_s = leak_ml_per_min * 1e-6 / 60 * 101_325 / 0.062
    return [
        [str(t), f"{3000 - fall_pa_per_s * t:.0f}", "20.00", "101325"]
        for t in range(0, seconds + 1, 60)
    ]


def sealed_van() -> Bench:
    """Give a van whose seal is tested, the step not signed."""
    bench = reassembled()
    bench.sign("reassembly")
    bench.put(SEAL_CAPS_OUT, "2")
    bench.put(SEAL_SOURCE)
    bench.put(SEAL_GAUGE, GAUGE)
    bench.put(SEAL_THERMOMETER, THERMOMETER)
    bench.put(SEAL_SETTLED_S, "200")
    bench.put(SEAL_SAMPLES, samples())
    bench.put(SEAL_CAPS_IN, "2")
    return bench


def vehicle_side(bench: Bench, ohm: str = ">550M") -> None:
    """Read the vehicle's side with connectors off."""
    side, proof = ROAD_VEHICLE, {"Leads shorted": "10", "Check resistor, marked": "1M"}
    bench.put(side.tester, TESTER)
    bench.put(side.connectors_off)
    bench.put(side.test_v, "500")
    bench.put(side.lead_proof, {**proof, "Check resistor, read": "1.01M"}, when="before")
    for pole in ("pos", "neg"):
        bench.put(side.reading, ohm, pole=pole, unplugged="nothing")
        bench.put(side.discharged, pole=pole, unplugged="nothing")
    bench.put(side.lead_proof, {**proof, "Check resistor, read": "1.01M"}, when="after")


def switched_on_and_driven(bench: Bench, *, opened: bool = True) -> None:
    """Switch on, drive, charge and read again a day later."""
    hold(bench, ROAD_SLUG, ROAD_HOLD)
    bench.put(ROAD_DISCONNECT)
    bench.put(ROAD_SUPPLY)
    bench.put(ROAD_CODES_STORED, "none")
    bench.put(ROAD_CLEARED)
    bench.put(ROAD_DRIVE_KM, "24")
    bench.put(ROAD_DRIVE_MIN, "30")
    bench.put(ROAD_CHARGED)
    if opened:
        bench.put(ROAD_CODED)
        bench.put(ROAD_SPREAD_REST, "12")
        bench.put(ROAD_SPREAD_TOP, "21")
        bench.put(ROAD_SPREAD_LOAD, "60")
        bench.put(ROAD_SPREAD_C, "3")
    bench.put(ROAD_CODES, "none")
    bench.put(ROAD_HOT, "1.4M")
    bench.wait(hours=25)
    bench.put(ROAD_AFTER_24H, "1.5M")
    bench.put(ROAD_REVISIT_ON, "2026-04-02")


def driven() -> Bench:
    """Give a van that is driven and charged, not released."""
    bench = sealed_van()
    pack = bench.record().pack
    assert pack is not None
    bench.sign("seal_test")
    torque(bench, ROAD_MOUNTS, pack.mounts, pack.mounts.positions)
    bench.put(ROAD_BONDING_METER, MILLIOHM)
    bench.put(ROAD_BONDING_A, "1")
    bench.put(ROAD_BONDING, dict.fromkeys(pack.bonding_points, "0.02"))
    bench.prove()
    bench.put(ROAD_CONNECTORS)
    bench.put(ROAD_COOLANT)
    bench.put(ROAD_INTERLOCK)
    bench.put(ROAD_TOOLS)
    bench.put(ROAD_SECOND, by=MUNK)
    switched_on_and_driven(bench)
    return bench
