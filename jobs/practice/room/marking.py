"""How a practice went: plain counts of what was done, and what the vehicle really had.

Here: the counts, kept with the practice. Not here: the sentences (`jobs.views.practice_words`).
"""

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, Final

from jobs.core.entry import Entry, Kind
from jobs.core.item import EquipmentUsed, qualifier_parts
from jobs.core.record import Record
from jobs.practice.room.looking import ENCLOSURE, MODES
from jobs.practice.room.running import Running
from jobs.practice.room.yardstick import readings_needed
from jobs.queries import practice_shelf as shelf
from jobs.queries.practice import PracticeDone, acts_of
from jobs.steps.fault_localisation.assessment import leaking_modules
from jobs.steps.fault_localisation.items import LEAKING, READING
from jobs.steps.isolation_readings.assessment import assess as assess_isolation
from jobs.steps.isolation_readings.items import OUTCOME as SIDE
from jobs.steps.isolation_readings.items import PACK
from packs.definition import PackDefinition
from workshop.queries import local_day

__all__ = ["Score", "score_of", "wrong_readings"]

_POLE_ITEMS: Final = frozenset({PACK.reading.key, READING.key})
_FACTORS: Final = {"": 1.0, "m": 1.0e-3, "k": 1.0e3, "M": 1.0e6, "G": 1.0e9}
_FIGURE: Final = re.compile(r"(-?[0-9][0-9.]*)\s*([mkMG]?)(?:Ω|V)?$")
_NEAR: Final = 0.006
"""How far a typed figure may stand from one shown and still be it [1]."""
_UNSTEADY: Final = 12
"""Frames at the end of a look of which any may have been read off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """What a practice came to; every number is a count.

    Attributes
    ----------
    signed : int
        Steps signed.
    refused : Mapping[str, int]
        Refusals by act: "sign", "hold", "proof", "close".
    dangers : Mapping[str, int]
        Looks that would have hurt somebody or destroyed an instrument, by code.
    leaking, leaking_parts : tuple[str, ...]
        What really leaks.
    named, named_parts : tuple[str, ...]
        What the learner named.
    said : str
        Which side the learner found: "pack", "vehicle_part", "both", "not_found", or empty.
    missed, condemned : tuple[str, ...]
        Leaking modules not named, and sound ones named.
    readings : int
        Readings pole to enclosure that stand.
    needed : int | None
        How many following the proposals needs; None where that does not tell.
    other_than_shown, other_place, not_looked, struck : int
        Readings typed otherwise than shown, taken elsewhere than written, entered without an
        instrument; values struck.
    taken, hints : int
        Values left to the colleague; hints asked for.
    real_s, passed_s : int
        Time it took by the shop's clock, and time let pass [s].
    flat, flat_mode : str
        The instrument with a flat battery, and what that does.
    flat_used : int
        Readings with it that stand.
    lapsed : tuple[str, ...]
        Instruments that are out of date.
    lapsed_picked : int
        Times one of them was picked.
    """

    signed: int
    refused: Mapping[str, int]
    dangers: Mapping[str, int]
    leaking: tuple[str, ...]
    leaking_parts: tuple[str, ...]
    named: tuple[str, ...]
    named_parts: tuple[str, ...]
    said: str
    missed: tuple[str, ...]
    condemned: tuple[str, ...]
    readings: int
    needed: int | None
    other_than_shown: int
    other_place: int
    not_looked: int
    struck: int
    taken: int
    hints: int
    real_s: int
    passed_s: int
    flat: str
    flat_mode: str
    flat_used: int
    lapsed: tuple[str, ...]
    lapsed_picked: int

    def kept(self) -> dict[str, Any]:
        """Give it as plain JSON."""
        return asdict(self)


def _number(shown: str) -> float | None:
    """Read what stood on a display; None where it was no figure."""
    found = _FIGURE.match(shown.replace("\u00a0", " ").lstrip("> ").strip())
    return None if found is None else float(found[1]) * _FACTORS[found[2]]


def _was_shown(act: PracticeDone, typed: float) -> bool:
    numbers = (_number(text) for text in act.values["shown"][-_UNSTEADY:])
    return any(
        number is not None and abs(number - typed) <= max(_NEAR * abs(number), 0.02)
        for number in numbers
    )


def _typed(entry: Entry) -> float | None:
    value = entry.value
    plain = isinstance(value, Mapping) and "number" in value
    return float(value["number"]) if plain else None


def _place(entry: Entry, pack: PackDefinition | None) -> str:
    """Give the pole that a reading says it was taken at; empty where it says none."""
    parts = qualifier_parts(entry.qualifier)
    if entry.item == READING.key:
        return f"pole:{parts.get('module', '')}:{parts.get('pole', '')}"
    points = () if pack is None else pack.isolation_points
    own = (p for p in points if entry.item == PACK.reading.key and p.name == parts.get("point"))
    return next((f"pole:{p.module}:{p.pole}" for p in own), "")


def _fits(act: PracticeDone, entry: Entry, pack: PackDefinition | None) -> bool:
    """Tell whether a look had its leads where the reading says."""
    place, parts = _place(entry, pack), qualifier_parts(entry.qualifier)
    if not place:
        return True
    leads = (act.values["red"], act.values["black"]) == (place, ENCLOSURE)
    return leads and act.values["shunt"] == (parts.get("shunt") == "fitted")


def wrong_readings(
    entries: Iterable[Entry], acts: Sequence[PracticeDone], pack: PackDefinition | None
) -> Counter[str]:
    """Count the readings that were typed otherwise than they were read.

    Parameters
    ----------
    entries : Iterable[Entry]
        All entries of the job.
    acts : Sequence[PracticeDone]
        What was done beside the record.
    pack : PackDefinition | None
        The pack that was chosen.

    Returns
    -------
    Counter[str]
        "other_than_shown", "other_place" and "not_looked".
    """
    looks = [act for act in acts if act.kind == "looked"]
    found: Counter[str] = Counter()
    for entry in entries:
        typed = _typed(entry) if entry.kind is Kind.VALUE and entry.item in MODES else None
        if typed is None:
            continue
        mine = [a for a in looks if a.values["item"] == entry.item and a.at <= entry.at]
        alike = [act for act in mine if _was_shown(act, typed)]
        if not mine:
            found["not_looked"] += 1
        elif not alike:
            found["other_than_shown"] += 1
        elif not any(_fits(act, entry, pack) for act in alike):
            found["other_place"] += 1
    return found


def _refused(entries: Iterable[Entry]) -> Counter[str]:
    return Counter(str(e.value["act"]) for e in entries if e.kind is Kind.REFUSAL)


def _named(record: Record) -> tuple[str, ...]:
    """Give the modules that the learner named, the step signed or not."""
    ticked = {given.part("module") for given in record.all(LEAKING)}
    return leaking_modules(record) or tuple(sorted(ticked))


def _needed(run: Running) -> int | None:
    """Count what following the proposals needs, with the sound instruments of the bench."""
    opening = shelf.opening_of(run.scene.record()) or {}
    today = local_day(run.scene.clock.now())
    meters = shelf.pieces_of_kind(opening, "meter", today)
    shunts = shelf.pieces_of_kind(opening, "shunt", today)
    meter, shunt = (
        EquipmentUsed(
            id=each.id, kind=each.kind, label=each.label, serial=each.serial,
            ratings=each.ratings, due_on=each.due_on, withdrawn=False,
        )
        for each in (meters[-1], shunts[0])
    )  # fmt: skip
    return readings_needed(run.hidden, run.rig, meter, shunt)


def _picked(record: Record, labels: Sequence[str]) -> int:
    """Count how often one of these pieces was picked, struck picks among them."""
    values = (e.value for e in record.entries if e.kind is Kind.VALUE)
    return sum(isinstance(v, Mapping) and v.get("label") in labels for v in values)


def _flat_used(run: Running, record: Record) -> int:
    """Count the readings that stand and were taken with the flat instrument."""
    used = record.get(PACK.meter)
    if used is None or not run.rig.is_flat(used):
        return 0
    return sum(len(record.all(item)) for item in (PACK.reading, READING))


def score_of(run: Running, *, now: datetime) -> Score:
    """Say how a practice went.

    Parameters
    ----------
    run : Running
        The practice job as it stands.
    now : datetime
        The shop's time.

    Returns
    -------
    Score
        Counts, and what the vehicle really had.
    """
    record, acts, hidden = run.scene.record(), acts_of(run.info.job_id), run.hidden
    named, leaking = _named(record), hidden.modules
    looked = Counter(act.values["danger"] for act in acts if act.kind == "looked")
    wrong = wrong_readings(record.entries, acts, record.pack)
    return Score(
        signed=len(record.signatures),
        refused=dict(_refused(record.entries)),
        dangers={code: count for code, count in looked.items() if code},
        leaking=leaking,
        leaking_parts=hidden.parts,
        named=named,
        named_parts=assess_isolation(record).vehicle.leaking,
        said=record.get(SIDE) or "",
        missed=tuple(name for name in leaking if name not in named),
        condemned=tuple(name for name in named if name not in leaking),
        readings=sum(len(record.all(item)) for item in (PACK.reading, READING)),
        needed=_needed(run),
        other_than_shown=wrong["other_than_shown"],
        other_place=wrong["other_place"],
        not_looked=wrong["not_looked"],
        struck=sum(entry.kind is Kind.STRIKE for entry in record.entries),
        taken=sum(act.kind == "taken" for act in acts),
        hints=sum(act.kind == "hint" for act in acts),
        real_s=int((now - run.info.begun_at).total_seconds()),
        passed_s=run.info.ahead_s,
        flat=hidden.flat,
        flat_mode=hidden.flat_mode,
        flat_used=_flat_used(run, record),
        lapsed=hidden.lapsed,
        lapsed_picked=_picked(record, hidden.lapsed),
    )
