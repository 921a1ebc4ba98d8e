"""What a practice job has instead of the shop's registers: people, instruments, spares, vehicle.

Pure data: the first entry of a practice job says that it is one and what stands on its stickers.
Nothing here knows the hidden fault. Not here: the simulated readings (`jobs.practice`).
"""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, Final

from jobs.core.entry import Json
from jobs.core.record import Record
from packs.definition import PackDefinition
from packs.spare_tests import SpareTest
from packs.spares import IN_STOCK, SpareInfo
from workshop import equipment
from workshop.people import (
    COUNTERSIGN,
    FRONT_DESK,
    LIVE_WORK,
    MANAGER,
    RELEASE,
    SECOND_PERSON,
    TECHNICIAN,
    PersonInfo,
    QualificationInfo,
)
from workshop.registers import CustomerInfo, EquipmentInfo, VehicleInfo

__all__ = [
    "COLLEAGUES",
    "COLLEAGUE_PIN",
    "CUSTOMER",
    "PREFIX",
    "VEHICLE",
    "VIN",
    "acting",
    "colleague",
    "colleague_names",
    "opening_of",
    "piece_of",
    "pieces_of_kind",
    "snapshot_of_person",
    "snapshot_of_piece",
    "snapshot_of_spare",
    "spares_for",
]

PREFIX: Final = "PRACTICE-"
"""What the number of every practice job begins with, on every page and every print."""
COLLEAGUE_PIN: Final = "2468"
"""PIN of every simulated colleague; it stands on the page."""
VIN: Final = "0ZZPRACT3CE000001"
_SPACE: Final = uuid.UUID("6f6b0c6e-5a0e-4d0a-9f43-7d9f6b1f2a11")
_TESTED_DAYS: Final = 40
_LAPSED_DAYS: Final = 400


def _id(name: str) -> str:
    return str(uuid.uuid5(_SPACE, name))


def _person(name: str, role: str, *codes: str) -> PersonInfo:
    held = tuple(QualificationInfo(code, None) for code in codes)
    shown = f"{name} (simulated)"
    return PersonInfo(_id(name), shown, shown, role, held, active=True)


_REPAIRS: Final = (LIVE_WORK, SECOND_PERSON)
COLLEAGUES: Final = (
    _person("Colleague", TECHNICIAN, *_REPAIRS),
    _person("Manager", MANAGER, *_REPAIRS, RELEASE, COUNTERSIGN),
    _person("Front desk", FRONT_DESK),
)
"""Who is there in every practice job beside the learner: second person, manager, front desk."""

CUSTOMER: Final = CustomerInfo(
    id="", name="PRACTICE, invented customer", phone="", email="", address="", consent_at=None,
    note="",
)  # fmt: skip
VEHICLE: Final = VehicleInfo(
    id="", plate="PRACTICE", vin=VIN, make="PRACTICE:", model="simulated vehicle", year=None,
    body="", customer_id="", customer_name=CUSTOMER.name,
)  # fmt: skip


def opening_of(record: Record) -> Mapping[str, Any] | None:
    """Give what the first entry of a practice job says of its bench; None for a real job."""
    opened = record.entries[0].value if record.entries else None
    said = opened.get("practice") if isinstance(opened, Mapping) else None
    return said if isinstance(said, Mapping) else None


def colleague(person_id: str) -> PersonInfo | None:
    """Give a simulated colleague by identifier; None for anybody else."""
    return next((each for each in COLLEAGUES if each.id == person_id), None)


def colleague_names() -> Mapping[str, str]:
    """Give the names of the simulated colleagues by identifier."""
    return {each.id: each.display_name for each in COLLEAGUES}


def acting(person: PersonInfo) -> PersonInfo:
    """Give a person as they stand in a practice job: a technician who may do the work.

    The real qualifications are not asked: nothing here is live.
    """
    if colleague(person.id) is not None:
        return person
    held = tuple(QualificationInfo(code, None) for code in _REPAIRS)
    return replace(person, role=TECHNICIAN, qualifications=held)


def snapshot_of_person(person: PersonInfo) -> Json:
    """Give a person as an entry of a practice job keeps them."""
    as_is = acting(person)
    held = [{"code": each.code, "expires_on": None} for each in as_is.qualifications]
    return {"id": as_is.id, "role": as_is.role, "qualifications": held}


@dataclass(frozen=True, slots=True)
class _Piece:
    kind: str
    label: str
    ratings: Mapping[str, Any]


_METER = {
    "input_ohm": 1.0e7, "input_tolerance_percent": 1.0, "accuracy_percent": 0.1,
    "accuracy_counts": 2.0, "resolution_v": 0.01, "rated_v": 1000.0,
}  # fmt: skip
_TESTER = {"test_voltages_v": [100.0, 250.0, 500.0, 1000.0], "accuracy_percent": 3.0,
           "rated_v": 1000.0}  # fmt: skip
_INDICATOR = {
    "rated_v": 1000.0, "has_digits": True, "accuracy_percent": 1.0, "accuracy_counts": 2.0,
    "resolution_v": 0.1, "below_v": 0.0,
}  # fmt: skip
_GLOVES = {"glove_class": "0", "max_dc_v": 1500.0, "cuff_size": "10"}
_BENCH: Final = (
    _Piece("meter", "Practice V1", _METER),
    _Piece("meter", "Practice V2", _METER),
    _Piece("insulation_tester", "Practice T1", _TESTER),
    _Piece("insulation_tester", "Practice T2", _TESTER),
    _Piece("two_pole_indicator", "Practice P1", _INDICATOR),
    _Piece("two_pole_indicator", "Practice P2", _INDICATOR),
    _Piece("proving_unit", "Practice U1", {"output_v": 690.0}),
    _Piece("shunt", "Practice R1",
           {"ohm": 2.0e5, "tolerance_percent": 0.5, "rated_v": 1000.0, "rated_w": 2.0}),
    _Piece("gloves", "Practice G1", _GLOVES),
    _Piece("gloves", "Practice G2", _GLOVES),
    _Piece("face_shield", "Practice F1", {"marking": "Arc class 2"}),
    _Piece("insulated_tools", "Practice K1", {"rated_v": 1000.0}),
    _Piece("torque_tool", "Practice N1",
           {"low_nm": 1.0, "high_nm": 25.0, "tolerance_percent": 4.0}),
    _Piece("torque_tool", "Practice N2",
           {"low_nm": 20.0, "high_nm": 300.0, "tolerance_percent": 4.0}),
    _Piece("lifting_table", "Practice L1", {"max_kg": 1500.0}),
    _Piece("pressure_gauge", "Practice D1",
           {"resolution_pa": 1.0, "repeatability_pa": 2.0, "range_pa": 10000.0}),
    _Piece("pressure_gauge", "Practice D2",
           {"resolution_pa": 100.0, "repeatability_pa": 100.0, "range_pa": 400000.0}),
    _Piece("milliohm_meter", "Practice M1",
           {"accuracy_percent": 0.2, "accuracy_counts": 2.0, "resolution_mv": 0.001,
            "current_a": 100.0}),
    _Piece("thermometer", "Practice H1", {"u_c": 0.2}),
    _Piece("current_source", "Practice C1", {"max_a": 100.0, "max_v": 60.0}),
)  # fmt: skip


def _info(piece: _Piece, opening: Mapping[str, Any], today: date) -> EquipmentInfo:
    """Give a piece as its sticker has it on a day."""
    is_lapsed = piece.label in opening.get("lapsed", ())
    begun = date.fromisoformat(str(opening["on"]))
    tested = begun - timedelta(days=_LAPSED_DAYS if is_lapsed else _TESTED_DAYS)
    dated = piece.kind != "gloves"
    due = equipment.add_months(tested, equipment.CALIBRATION_MONTHS) if dated else None
    last = equipment.lapses_on(piece.kind, tested_on=tested, due_on=due, issued=True)
    kept: dict[str, Any] = {
        "kind": piece.kind,
        "ratings": dict(piece.ratings),
        "tested_on": tested.isoformat(),
        "due_on": last.isoformat() if last else None,
        "issued": True,
        "cycles": 0,
        "withdrawn": False,
    }
    return EquipmentInfo(
        id=_id(piece.label), kind=piece.kind, label=piece.label,
        serial=f"PRACTICE {piece.label[-2:]}", ratings=dict(piece.ratings), tested_on=tested,
        due_on=last, certificate="", cycles=0, issued=True, withdrawn_at=None,
        withdrawn_reason="", reason=equipment.usable(kept, today),
    )  # fmt: skip


def pieces_of_kind(opening: Mapping[str, Any], kind: str, today: date) -> tuple[EquipmentInfo, ...]:
    """Give the practice instruments of a kind, each with whether it may be used on a day."""
    return tuple(_info(each, opening, today) for each in _BENCH if each.kind == kind)


def piece_of(opening: Mapping[str, Any], piece_id: str, today: date) -> EquipmentInfo | None:
    """Give one practice instrument by identifier; None where there is none."""
    found = (each for each in _BENCH if _id(each.label) == piece_id)
    return next((_info(each, opening, today) for each in found), None)


def snapshot_of_piece(opening: Mapping[str, Any], piece_id: str, today: date) -> Json | None:
    """Give a practice instrument as an entry keeps it; None where there is none."""
    info = piece_of(opening, piece_id, today)
    if info is None:
        return None
    return {
        "id": info.id,
        "kind": info.kind,
        "label": info.label,
        "serial": info.serial,
        "ratings": dict(info.ratings),
        "tested_on": None if info.tested_on is None else info.tested_on.isoformat(),
        "due_on": None if info.due_on is None else info.due_on.isoformat(),
        "issued": info.issued,
        "cycles": 0,
        "withdrawn": False,
        "unusable": None if info.reason is None else info.reason.code,
    }


_OFFSETS_V: Final = (0.004, 0.006, 0.008, 0.11)
"""How far the cells of the practice spares stand above those of the string [V]."""


def spares_for(opening: Mapping[str, Any], pack: PackDefinition | None) -> tuple[SpareInfo, ...]:
    """Give the practice spares for a pack: some that fit, one that stands at another charge."""
    if pack is None:
        return ()
    begun = date.fromisoformat(str(opening["on"]))
    parts = {module.part: module.cells for module in pack.modules}
    found = []
    for part, cells in sorted(parts.items()):
        for place, offset_v in enumerate(_OFFSETS_V, start=1):
            serial = f"PRACTICE {part} {place}"
            test = SpareTest(
                capacity_ah=round(pack.capacity_ah.value * 0.98, 1),
                resistance_mohm=4.0,
                cell_v=round(float(opening["cell_v"]) + offset_v, 3),
                tested_on=begun - timedelta(days=9),
                insulation_ohm=5.5e8,
                insulation_comparator=">",
                insulation_test_v=500.0,
            )
            found.append(
                SpareInfo(
                    id=uuid.UUID(_id(serial)),
                    serial=serial,
                    part=part,
                    chemistry=pack.chemistry,
                    cells=cells,
                    test=test,
                    provenance="Simulated",
                    place="Practice rack",
                    state=IN_STOCK,
                )
            )
    return tuple(found)


def snapshot_of_spare(
    opening: Mapping[str, Any], pack: PackDefinition | None, spare_id: str, now: datetime
) -> Json | None:
    """Give a practice spare as an entry keeps it; None where there is none."""
    info = next((s for s in spares_for(opening, pack) if str(s.id) == spare_id), None)
    if info is None:
        return None
    tested = info.test.tested_on
    return {
        "id": spare_id,
        "serial": info.serial,
        "part": info.part,
        "chemistry": info.chemistry,
        "cells": info.cells,
        "capacity_ah": info.test.capacity_ah,
        "resistance_mohm": info.test.resistance_mohm,
        "cell_v": info.test.cell_v,
        "tested_on": None if tested is None else tested.isoformat(),
        "days_since_test": None if tested is None else (now.date() - tested).days,
        "insulation": {"comparator": ">", "ohm": 5.5e8, "test_v": 500.0},
        "state": info.state,
        "quarantined": False,
        "provenance": info.provenance,
        "place": info.place,
        "at": now.isoformat(),
    }
