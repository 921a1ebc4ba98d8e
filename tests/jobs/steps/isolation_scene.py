"""A delivery van with a leak of known place, read as a technician reads it."""

from typing import Any

from jobs.core.entry import Kind
from jobs.core.item import Item
from jobs.core.live_work import LiveWork
from jobs.core.pack_side import PackSide
from jobs.core.vehicle_side import MARKED, READ, SHORTED
from jobs.steps.isolation_readings.items import (
    HUMIDITY_PERCENT,
    LIVE,
    OUTCOME,
    PACK,
    TEMPERATURE_C,
    VEHICLE,
)
from packs.definition import PackDefinition
from packs.physics.simulate import (
    PackUnderTest,
    Probe,
    SimulatedLeak,
    SimulatedModule,
    settled_v,
)
from tests.builders import ASTER, MUNK, Bench, a_bench, an_equipment

CELL_V = 3.6
SHUNT_OHM = 5.0e5
INPUT_OHM = 1.0e7
LEAK_IN_M3 = SimulatedLeak(module="M3", position_cells=2.5, leak_ohm=6.0e4)
SIDE_A, SIDE_B = "Disconnect socket, side A", "Disconnect socket, side B"
HEATER, CHARGER = "Cabin heater", "Charger"

METER = an_equipment(
    "meter", input_ohm=INPUT_OHM, input_tolerance_percent=1.0, accuracy_percent=0.5,
    accuracy_counts=2, resolution_v=0.01, rated_v=1000,
)  # fmt: skip
SHUNT = an_equipment("shunt", ohm=SHUNT_OHM, tolerance_percent=1.0, rated_v=1000, rated_w=2)
TESTER = an_equipment(
    "insulation_tester", test_voltages_v=[250, 500], accuracy_percent=5.0, rated_v=1000
)
GLOVES = an_equipment("gloves", glove_class="0", max_dc_v=1500)
SHIELD = an_equipment("face_shield", marking="EN 166")


def simulated(pack: PackDefinition, *leaks: SimulatedLeak) -> PackUnderTest:
    """Give the pack with these leaks and otherwise sound insulation."""
    modules = tuple(
        SimulatedModule(name=one.name, cells_v=(CELL_V,) * one.cells) for one in pack.modules
    )
    return PackUnderTest(modules=modules, leaks=leaks, sound_ohm=2.0e8)


def volts(van: PackUnderTest, module: str, pole: str, *links: str, shunt: bool = False) -> str:
    """Give the settled reading as it is typed, the disconnect out."""
    probe = Probe(
        module=module,
        pole="pos" if pole == "pos" else "neg",
        open_after=tuple(one.name for one in van.modules if one.name in {"M7", *links}),
        shunt_ohm=SHUNT_OHM if shunt else None,
    )
    return f"{settled_v(van, probe, INPUT_OHM):.2f}"


def put_live(bench: Bench, live: LiveWork = LIVE) -> None:
    """Enter the four things before live work."""
    bench.put(live.gloves, GLOVES)
    bench.put(live.air_test)
    bench.put(live.shield, SHIELD)
    bench.put(live.second, by=MUNK)


def put_pole(bench: Bench, point: str, reading: str, shunted: str, side: PackSide = PACK) -> None:
    """Enter a pole with and without the shunt, watched until it stood still."""
    bench.put(side.reading, reading, point=point, shunt="none")
    bench.put(side.reading, shunted, point=point, shunt="fitted")
    bench.put(side.settled, point=point)


def put_pack_side(bench: Bench, *leaks: SimulatedLeak, side: PackSide = PACK) -> None:
    """Enter the readings at both sides of the disconnect."""
    assert bench.pack is not None
    van = simulated(bench.pack, *leaks)
    bench.put(side.meter, METER)
    bench.put(side.shunt, SHUNT)
    bench.put(side.string_v, f"{CELL_V * bench.pack.cells_total:.1f}")
    for point, module, pole in ((SIDE_A, "M7", "pos"), (SIDE_B, "M8", "neg")):
        shunted = volts(van, module, pole, shunt=True)
        put_pole(bench, point, volts(van, module, pole), shunted, side)


def put_lead_proof(bench: Bench, when: str) -> None:
    """Enter a good proof of the leads."""
    bench.put(VEHICLE.lead_proof, {SHORTED: "0", MARKED: "1M", READ: "1.01M"}, when=when)


def put_tester(bench: Bench, unplugged: str, pos: str, neg: str) -> None:
    """Enter a pair of tester readings and the discharge after them."""
    for pole, ohm in (("pos", pos), ("neg", neg)):
        bench.put(VEHICLE.reading, ohm, unplugged=unplugged, pole=pole)
        bench.put(VEHICLE.discharged, unplugged=unplugged, pole=pole)


def put_vehicle_side(bench: Bench, leaking: str = "") -> None:
    """Enter the tester's readings; with a leaking part also each part unplugged."""
    assert bench.pack is not None
    bench.put(VEHICLE.tester, TESTER)
    bench.put(VEHICLE.connectors_off)
    bench.put(VEHICLE.test_v, "500")
    put_lead_proof(bench, "before")
    put_tester(bench, "nothing", "40k" if leaking else ">550M", ">550M")
    if leaking:
        for part in bench.pack.vehicle_parts:
            put_tester(bench, part, ">550M" if part == leaking else "40k", ">550M")
    put_lead_proof(bench, "after")


def put_conditions(bench: Bench, outcome: str) -> None:
    """Enter temperature, humidity and the outcome."""
    bench.put(TEMPERATURE_C, "18")
    bench.put(HUMIDITY_PERCENT, "55")
    bench.put(OUTCOME, outcome)


def an_isolation_bench(*leaks: SimulatedLeak, part: str = "", outcome: str = "pack") -> Bench:
    """Give a bench on which the whole step was done by R. Aster."""
    bench = a_bench()
    bench.prove(by=ASTER)
    put_live(bench)
    put_pack_side(bench, *leaks)
    put_vehicle_side(bench, part)
    put_conditions(bench, outcome)
    return bench


def struck(bench: Bench, item: Item[Any], **parts: str) -> None:
    """Strike the newest value of an item whose qualifier has these parts."""
    given = bench.record().all(item)
    found = [one for one in given if all(one.part(name) == parts[name] for name in parts)]
    bench.add(Kind.STRIKE, {"key": found[-1].entry.key, "reason": "misread"})
