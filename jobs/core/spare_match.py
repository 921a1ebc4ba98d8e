"""How well a spare matches the string, through `packs.physics.match`.

Here: the string as the record knows it, a spare as the register or an entry has it, the answer.
Not here: the rules and points (`packs.physics`), who may not be picked at all (`packs.spares`).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from jobs.core.asked import note
from jobs.core.limits import Limits
from jobs.core.record import Record
from jobs.core.section import Said
from jobs.core.snapshot import SpareUsed
from jobs.core.spare_items import SpareItems
from packs.definition import PackDefinition
from packs.definition_parts import Module
from packs.physics.instrument import Message
from packs.physics.match import MatchCase, MatchLimits, MatchResult, SpareModule, Wanted
from packs.physics.match import match as _match

__all__ = ["SHOP_RULES", "SpareMatch", "match_of", "matched", "spare_module", "wanted_for"]

SHOP_RULES = frozenset(
    {
        "capacity_low",
        "capacity_unmeasured",
        "resistance_off",
        "test_too_old",
        "test_age_unknown",
    }
)
"""Exclusions that follow from shop defaults: a manager may accept them, and no other."""
KIND_RULES = frozenset({"quarantined", "other_chemistry", "other_part", "other_cells"})
"""Exclusions that the step says in words of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareMatch:
    """One spare against the string; `score` None where it is excluded.

    Attributes
    ----------
    score : float | None
        Points of 100.
    reasons : tuple[Message, ...]
        What costs points, or what excludes.
    advice, warnings : tuple[Message, ...]
        What match says of the string and of figures that look mistaken.
    """

    score: float | None
    reasons: tuple[Message, ...]
    advice: tuple[Message, ...] = ()
    warnings: tuple[Message, ...] = ()

    @property
    def by_shop_rules(self) -> tuple[Message, ...]:
        """Exclusions that a manager may accept."""
        out = self.score is None
        return tuple(r for r in self.reasons if out and r.code in SHOP_RULES)

    @property
    def unfit(self) -> tuple[Message, ...]:
        """Exclusions that nobody may accept and that the step does not say itself."""
        said = SHOP_RULES | KIND_RULES
        return tuple(r for r in self.reasons if self.score is None and r.code not in said)


def _staying(values: Mapping[str, float] | None, out: frozenset[str]) -> tuple[Any, ...]:
    """Give the figures of the modules that stay."""
    return tuple(value for name, value in (values or {}).items() if name not in out)


def wanted_for(
    record: Record,
    items: SpareItems,
    pack: PackDefinition,
    place: Module,
    out: frozenset[str] = frozenset(),
) -> Wanted:
    """Give the string for which a spare is wanted at a place.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : SpareItems
        The step's items.
    pack : PackDefinition
        The pack.
    place : Module
        Where the spare is to go.
    out : frozenset[str]
        Modules that are replaced; what was entered for them does not count.

    Returns
    -------
    Wanted
        Part and cells of the place, and what is known of the modules that stay [Ah, mohm, V].
    """
    return Wanted(
        chemistry=pack.chemistry,
        part=place.part,
        cells=place.cells,
        capacity_ah=_staying(record.get(items.string_ah), out),
        resistance_mohm=_staying(record.get(items.string_mohm), out),
        cell_v=record.get(items.string_v),
        temperature_c=record.get(items.string_c),
    )


def _number(value: object) -> float | None:
    """Read a figure of a snapshot, whose numbers an entry keeps as text."""
    return float(value) if isinstance(value, int | float | str) and value != "" else None


def spare_module(used: SpareUsed, cell_v: float | None = None) -> SpareModule:
    """Give a picked spare as match takes it; a voltage read since replaces that of its test [V]."""
    data = used.data
    return SpareModule(
        serial=used.serial,
        chemistry=used.chemistry,
        part=used.part,
        cells=used.cells,
        capacity_ah=_number(data.get("capacity_ah")),
        resistance_mohm=_number(data.get("resistance_mohm")),
        cell_v=_number(data.get("cell_v")) if cell_v is None else cell_v,
        days_since_test=_number(data.get("days_since_test")),
        quarantined=bool(data.get("quarantined")),
    )


@lru_cache(maxsize=256)
def _kept(case: MatchCase) -> MatchResult:
    """Match once for one case: a page asks for the same one many times."""
    return _match(case)


def matched(wanted: Wanted, spares: tuple[SpareModule, ...], limits: Limits) -> MatchResult:
    """Rank spares under the shop's limits."""
    return _kept(_case(wanted, spares, limits))


def _case(wanted: Wanted, spares: tuple[SpareModule, ...], limits: Limits) -> MatchCase:
    return MatchCase(
        wanted=wanted,
        spares=spares,
        limits=MatchLimits(
            capacity_percent=limits.match_capacity_percent.value,
            resistance_percent=limits.match_resistance_percent.value,
            tested_within_days=limits.match_tested_days.value,
        ),
    )


def match_of(wanted: Wanted, spare: SpareModule, limits: Limits) -> SpareMatch:
    """Judge one spare that was picked."""
    found = matched(wanted, (spare,), limits)
    about = Said("Match of the spare {serial}", {"serial": spare.serial})
    note("match", about, _case(wanted, (spare,), limits), found)
    said: dict[str, Any] = {"advice": found.advice, "warnings": found.warnings}
    if found.ranked:
        best = found.ranked[0]
        return SpareMatch(score=best.score, reasons=best.reasons, **said)
    return SpareMatch(score=None, reasons=found.excluded[0].reasons, **said)
