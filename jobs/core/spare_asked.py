"""Matching a spare and moving its charge: which items are asked now.

Here: what follows from the voltages: means, cautions, readings while current flows, current off,
the voltage after the rest. Not here: the items themselves (`spare_items`), what blocks
(`spare_check`).
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from jobs.core.item import Item, qualifier_of, qualifier_parts
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.spare_check import (
    PLAN_FIRST,
    RESTING,
    SAFE_FIRST,
    STILL_FLOWS,
    TOO_COLD,
    SpareCheck,
    accepted,
    check_spare,
    rests_until,
)
from jobs.core.spare_items import RESISTOR, SUPPLY, SpareItems
from packs.definition import PackDefinition
from packs.physics.charge_case import Direction

__all__ = ["asked_after", "asked_before"]

Checks = dict[str, SpareCheck]
Barred = Callable[[str], Blocker | None]
FLAT = frozenset({"flat", "no_curve"})


def asked_before(
    items: SpareItems, pack: PackDefinition, modules: Sequence[str]
) -> tuple[Item[Any], ...]:
    """Give what is asked of the string, the spare to be picked, and its voltage at rest.

    Parameters
    ----------
    items : SpareItems
        The step's items.
    pack : PackDefinition
        The pack.
    modules : Sequence[str]
        Places for which a spare is wanted.

    Returns
    -------
    tuple[Item, ...]
        In the order of the work.
    """
    stay = tuple(module.name for module in pack.modules if module.name not in modules)
    known = (replace(items.string_ah, rows=stay), replace(items.string_mohm, rows=stay))
    return (
        replace(items.string_v, group=items.spare.group),
        items.string_c,
        *(known if stay else ()),
        *(
            replace(item, expected=_places(modules))
            for item in (items.spare, items.rest_h, items.spare_c, items.cell_v)
        ),
        items.cell_u_mv,
    )


def _places(modules: Sequence[str]) -> tuple[str, ...]:
    return tuple(qualifier_of(module=name) for name in modules)


def _each(
    record: Record, item: Item[Any], wanted: Sequence[str], offered: Sequence[str] = ()
) -> tuple[Item[Any], ...]:
    """Give an item for the places that want it, those that may have it, and those that did."""
    given = tuple(entry.qualifier for entry in record.live.get(item.key, ()))
    every = tuple(dict.fromkeys((*wanted, *offered, *given)))
    if not every:
        return ()
    needed = item.needed and bool(wanted)
    return (replace(item, expected=tuple(wanted), offered=every, needed=needed),)


def _means(record: Record, items: SpareItems, checks: Checks) -> tuple[Item[Any], ...]:
    """Ask what moves the charge, once the voltages show that some has to be moved."""
    moving = [
        name
        for name, check in checks.items()
        if check.charge.word == "move" and not accepted(record, name)
    ]
    kinds = {name: record.get(items.means, qualifier_of(module=name)) for name in checks}
    by_resistor = [name for name in moving if kinds[name] == RESISTOR]
    by_supply = [name for name in moving if kinds[name] == SUPPLY]
    unchosen = [n for n in by_resistor if record.get(items.means_ohm, _places([n])[0]) is None]
    return (
        *_each(record, items.means, _places(moving)),
        *_each(record, items.means_w, _places(unchosen), _places(by_resistor)),
        *_each(record, items.means_ohm, (), _places(by_resistor)),
        *_each(record, items.means_a, _places(by_supply)),
    )


def _no_current(record: Record, items: SpareItems, checks: Checks) -> Barred:
    """Give what bars the readings of a run: no plan, no cautions, too cold to be charged."""

    def barred(qualifier: str) -> Blocker | None:
        name = qualifier_parts(qualifier).get("module", "")
        check, at = checks.get(name), qualifier_of(module=name)
        if check is None or not check.charge.planned or check.state.resting is not None:
            return PLAN_FIRST(items.means.key if check else "", at, module=name)
        if record.get(items.safe, at) is not True:
            return SAFE_FIRST(items.safe.key, at, module=name)
        spare_c, result = record.get(items.spare_c, at), check.charge.result
        charges = result is not None and result.direction is Direction.CHARGE
        if charges and spare_c is not None and spare_c < 0.0:
            return TOO_COLD(items.spare_c.key, at, module=name, spare_c=spare_c)
        return None

    return barred


def _watched(record: Record, items: SpareItems, checks: Checks) -> tuple[Item[Any], ...]:
    """Ask for the readings of a run: numbered on, so that none is entered twice."""
    open_now = [n for n, c in checks.items() if c.charge.planned and c.state.resting is None]
    found = []
    for item in (items.watch_c, items.watch_v):
        taken = [int(given.part("reading")) for given in record.all(item)]
        if not open_now and not taken:
            continue
        options = {"module": tuple(open_now), "reading": (str(max(taken, default=0) + 1),)}
        barred = _no_current(record, items, checks)
        begins = [n for n in open_now if not accepted(record, n) and not checks[n].state.runs]
        needed = item.key == items.watch_v.key and bool(begins)
        found.append(replace(item, options=options, barred=barred, needed=needed))
    return tuple(found)


def _too_early(record: Record, checks: Checks) -> Barred:
    """Give what bars the voltage after a move: current that flows, and the rest."""

    def barred(qualifier: str) -> Blocker | None:
        name = qualifier_parts(qualifier).get("module", "")
        until = rests_until(checks[name]) if name in checks else None
        if until is None:
            return STILL_FLOWS(module=name)
        if record.now < until:
            return RESTING(module=name, until_at=until.isoformat())
        return None

    return barred


def _ends(
    record: Record, items: SpareItems, checks: Checks
) -> tuple[tuple[Item[Any], ...], tuple[Item[Any], ...]]:
    """Ask for the end of a run, and for the voltage after its rest."""
    flowing = [(name, check.state.flowing) for name, check in checks.items()]
    resting = [(name, check.state.resting) for name, check in checks.items()]
    to_end, to_read = (
        tuple(qualifier_of(module=n, round=str(run.number)) for n, run in runs if run is not None)
        for runs in (flowing, resting)
    )
    again = replace(items.again_v, barred=_too_early(record, checks))
    return _each(record, items.off, (), to_end), _each(record, again, to_read)


def asked_after(
    record: Record, items: SpareItems, pack: PackDefinition, modules: Sequence[str]
) -> tuple[Item[Any], ...]:
    """Give what is asked of a picked spare once its voltage is known: moving its charge.

    Parameters
    ----------
    record : Record
        The job as it stands.
    items : SpareItems
        The step's items.
    pack : PackDefinition
        The pack.
    modules : Sequence[str]
        Places for which a spare is wanted.

    Returns
    -------
    tuple[Item, ...]
        In the order of the work; means and readings only where charge has to be moved, the same
        end of the scale only where the voltage does not tell the charge.
    """
    out = frozenset(modules)
    checks = {name: check_spare(record, items, pack, name, out) for name in modules}
    can_move = [name for name, check in checks.items() if check.charge.planned]
    to_begin = [n for n in can_move if not accepted(record, n) and not checks[n].state.runs]
    flat = [n for n, c in checks.items() if pack.chemistry == "lfp" or c.charge.word in FLAT]
    off, again = _ends(record, items, checks)
    return (
        *_means(record, items, checks),
        *_each(record, replace(items.safe, needed=True), _places(to_begin), _places(can_move)),
        *off,
        *_watched(record, items, checks),
        *again,
        *_each(record, items.same_end, _places(flat)),
    )
