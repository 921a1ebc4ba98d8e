"""The hidden vehicle of a practice job: the same seed and kind of fault give the same one.

Pure: seed, kind and pack definition go in. Not here: what instruments show on it (`rig`).
"""

import random
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from jobs.practice.scenario import LeakData, Recipe, recipe
from jobs.queries.practice_shelf import VIN
from jobs.steps.module_swap.items import DRY, LEAKING
from packs.definition import PackDefinition

__all__ = ["CHOICES", "EASY", "FAULTS", "HARDER", "SEED_LIMIT", "Hidden", "draw_fault", "hidden"]

SEED_LIMIT: Final = 1_000_000
EASY, HARDER = "easy", "harder"

FAULTS: Final[Mapping[str, str]] = {
    "hard_leak": "Hard leak in one module",
    "soft_leak": "Soft leak in one module",
    "two_leaks": "Two leaks in the pack",
    "vehicle_part": "Not in the pack: a part of the vehicle leaks",
    "wet_leak": "Wet leak that changes while it dries",
    "flat_meter": "Hard leak, and an instrument with a flat battery",
    "out_of_date": "Hard leak, and instruments that are out of date",
    "sound": "Everything sound: the fault does not show",
}
"""Kinds of fault and their titles."""
_OF_DIFFICULTY: Final[Mapping[str, tuple[str, ...]]] = {
    "": tuple(FAULTS),
    EASY: ("hard_leak", "vehicle_part", "out_of_date"),
    HARDER: ("soft_leak", "two_leaks", "wet_leak", "flat_meter", "sound"),
}
CHOICES: Final[Mapping[str, str]] = {
    "": "Anything, drawn at random",
    EASY: "Something for the beginning",
    HARDER: "Something harder",
    **FAULTS,
}
"""What may be asked for when a practice is begun."""

_CELL_V: Final[Mapping[str, float]] = {"lfp": 3.295, "nmc": 3.556, "lmo_blend": 3.772}
"""Rested voltage of a cell at about a quarter of its charge, by chemistry [V]."""
_PACK_LIMIT_OHM_PER_V: Final = 500.0
_LAPSING: Final = ("Practice V1", "Practice T1", "Practice P1", "Practice G1")
FLAT_MODES: Final = ("low", "drift", "proof")
"""What a flat battery does: reads low, drifts away, or lets the indicator fail its second proof."""
DRYING_H: Final = 40.0
"""Hours in which a wet leak rises by as much again as it was [h]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hidden:
    """What a practice job hides.

    Attributes
    ----------
    fault : str
        One of `FAULTS`.
    recipe : Recipe
        The vehicle: leaks, cell voltage, what is seen, what the customer and the desk say.
    flat, flat_mode : str
        The instrument with a flat battery and what that does; empty for none.
    lapsed : tuple[str, ...]
        Instruments whose sticker is out of date.
    drying_h : float
        Hours in which a leak doubles while it dries; 0 for one that stays [h].
    """

    fault: str
    recipe: Recipe
    flat: str = ""
    flat_mode: str = ""
    lapsed: tuple[str, ...] = ()
    drying_h: float = 0.0

    @property
    def modules(self) -> tuple[str, ...]:
        """The modules that leak."""
        return tuple(leak.module for leak in self.recipe.leaks)

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts of the vehicle that leak."""
        return tuple(self.recipe.vehicle_leaks)

    def bench_words(self) -> Mapping[str, Any]:
        """Give what stands on stickers and labels of the practice bench; nothing of the fault."""
        return {"lapsed": list(self.lapsed), "cell_v": self.recipe.cell_v}


def _chance(seed: int, what: str) -> random.Random:
    """Give a source of chance that repeats; it does not have to be secret."""
    return random.Random(f"{seed} {what}")  # noqa: S311


def draw_fault(seed: int, asked: str) -> str:
    """Give the kind of fault: the one asked for, or one drawn from the seed.

    Examples
    --------
    >>> draw_fault(7, "soft_leak")
    'soft_leak'
    >>> draw_fault(7, "") == draw_fault(7, "")
    True
    """
    if asked in FAULTS:
        return asked
    return _chance(seed, "fault").choice(_OF_DIFFICULTY.get(asked, tuple(FAULTS)))


def _leak(chance: random.Random, pack: PackDefinition, name: str, ohm: float) -> LeakData:
    cells = pack.module_named(name).cells
    place = round(chance.uniform(0.6, cells - 0.6), 2)
    return LeakData(module=name, position_cells=place, leak_ohm=float(round(ohm, -1)))


def _hard(chance: random.Random) -> float:
    return float(chance.uniform(6.0e3, 4.0e4))


def _two_modules(chance: random.Random, pack: PackDefinition) -> tuple[str, str]:
    """Choose two modules: in two sections where the disconnect parts the string."""
    sections = pack.sections()
    if len(sections) > 1:
        return chance.choice(sections[0]), chance.choice(sections[-1])
    first, second = chance.sample([module.name for module in pack.modules], 2)
    return first, second


def _leaks(fault: str, chance: random.Random, pack: PackDefinition) -> tuple[LeakData, ...]:
    """Draw the leaks in the pack."""
    name = chance.choice([module.name for module in pack.modules])
    limit_ohm = _PACK_LIMIT_OHM_PER_V * pack.working_v
    if fault in {"vehicle_part", "sound"}:
        return ()
    if fault == "two_leaks":
        pair = _two_modules(chance, pack)
        return tuple(_leak(chance, pack, each, chance.uniform(1.5e4, 6.0e4)) for each in pair)
    if fault == "soft_leak":
        return (_leak(chance, pack, name, limit_ohm * chance.uniform(0.3, 0.55)),)
    if fault == "wet_leak":
        return (_leak(chance, pack, name, chance.uniform(2.5e4, 6.0e4)),)
    return (_leak(chance, pack, name, _hard(chance)),)


def _vehicle_leaks(fault: str, chance: random.Random, pack: PackDefinition) -> dict[str, float]:
    if fault != "vehicle_part":
        return {}
    limit_ohm = _PACK_LIMIT_OHM_PER_V * pack.working_v
    part = chance.choice(pack.vehicle_parts)
    return {part: float(round(chance.uniform(1.5e4, 0.4 * limit_ohm), -1))}


def _seen(fault: str, chance: random.Random, pack: PackDefinition) -> str:
    if fault == "wet_leak":
        return "coolant" if pack.cooling.kind == "liquid" else "water"
    return chance.choice(("nothing", "nothing", "corrosion")) if fault == "hard_leak" else "nothing"


def _shown_ohm(
    leaks: tuple[LeakData, ...], parts: Mapping[str, float], chance: random.Random
) -> float:
    """Give what the vehicle's own monitor shows: rough, and never more than ten megohm [ohm]."""
    conductance = sum(1.0 / leak.leak_ohm for leak in leaks)
    conductance += sum(1.0 / ohm for ohm in parts.values()) + 2.0e-7
    return float(f"{chance.uniform(0.8, 1.2) / conductance:.2g}")


def _words(seen: str, shown_ohm: float) -> dict[str, str | float]:
    words = dict(recipe("van-coolant").words)
    wet = seen in {"coolant", "water"}
    words |= {
        "intake.complaint": "The warning lamp comes on now and then, and the car wants to stop.",
        "intake.own_isolation_ohm": shown_ohm,
        "intake.stands": "Practice bay",
        "intake.keys": "Practice key cabinet",
        "module_swap.condition": "wet" if wet else "sound",
        "module_swap.quarantine_class": LEAKING if wet else DRY,
        "fault_localisation.seen_from": "From above, down into the corner of the module",
        "reassembly.cause": "Found where the module leaked, and put right",
    }
    return words


def hidden(seed: int, fault: str, pack: PackDefinition) -> Hidden:
    """Make the hidden vehicle of a practice job.

    Parameters
    ----------
    seed : int
        What it is made from.
    fault : str
        One of `FAULTS`.
    pack : PackDefinition
        The pack it has.

    Returns
    -------
    Hidden
        The same for the same arguments.
    """
    chance = _chance(seed, f"vehicle {fault} {pack.slug}")
    leaks, parts = _leaks(fault, chance, pack), _vehicle_leaks(fault, chance, pack)
    seen = _seen(fault, chance, pack)
    usual_v = 0.45 * pack.cell_low_v.value + 0.55 * pack.cell_high_v.value
    cell_v = round(_CELL_V.get(pack.chemistry, usual_v) + chance.uniform(-0.004, 0.004), 3)
    mode = chance.choice(FLAT_MODES) if fault == "flat_meter" else ""
    made = recipe("van-coolant").model_copy(
        update={
            "slug": "practice", "title": "Practice", "plate": VIN, "pack": pack.slug, "seed": seed,
            "cell_v": cell_v, "leaks": leaks, "vehicle_leaks": parts, "seen": seen,
            "words": _words(seen, _shown_ohm(leaks, parts, chance)),
        }
    )  # fmt: skip
    return Hidden(
        fault=fault,
        recipe=made,
        flat={"": "", "proof": "Practice P1"}.get(mode, "Practice V1"),
        flat_mode=mode,
        lapsed=tuple(chance.sample(_LAPSING, 3)) if fault == "out_of_date" else (),
        drying_h=DRYING_H if fault == "wet_leak" else 0.0,
    )
