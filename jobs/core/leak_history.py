"""Which modules leaked in earlier jobs of the same pack, as a prior of the search for the leak.

The counts stand in the entry that switches it on, so that a sealed result is computed again from
the record alone. History only orders what is looked at next: what it leans towards is confirmed
by readings that say so without it (`agreeing`).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from jobs.core.entry import Json
from jobs.core.item import Item, Shape
from jobs.core.leak_search import Prior, Searched
from jobs.core.reason import Reason
from jobs.core.record import Record
from jobs.core.section import Fact, Said
from packs.definition import PackDefinition

__all__ = ["MOST", "NO_HISTORY", "History", "agreeing", "history_facts", "history_item",
           "history_words", "is_switch", "prior_of", "prior_used"]  # fmt: skip

MOST: Final = 10.0
"""How many times likelier than one that never leaked a module counts at most: shop default."""

NO_HISTORY = Reason(
    "localise_no_history",
    "No earlier job of this kind of pack has found a leaking module. Go by the readings.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """What earlier jobs found.

    Attributes
    ----------
    jobs : int
        Earlier jobs of this kind of pack whose fault localisation was signed.
    modules : Mapping[str, int]
        In how many of them each module leaked, confirmed.
    """

    jobs: int
    modules: Mapping[str, int]


def _read(stored: Json) -> History:
    counts = {name: int(count) for name, count in stored["modules"].items()}
    return History(jobs=int(stored["jobs"]), modules=counts)


def history_item(key: str, **more: Any) -> Item[History]:
    """Make the switch; what earlier jobs found is put in where it is entered."""
    return Item(
        key=key,
        label="Let earlier jobs of this pack guide the search",
        shape=Shape.TICK,
        read=_read,
        needed=False,
        help="Off by itself. It orders what to look at next; it never confirms and never excludes "
        "a module. The counts of now are kept in the record.",
        on_paper=False,
        **more,
    )


def is_switch(item: Item[Any]) -> bool:
    """Tell whether an item is a switch, which is on or off, and no work that is done."""
    return item.read is _read


def prior_of(history: History, pack: PackDefinition) -> Prior:
    """Give how many times likelier each module is than one that never leaked.

    Parameters
    ----------
    history : History
        The counts.
    pack : PackDefinition
        The pack; a name that it does not have (another revision's) is left out.

    Returns
    -------
    Prior
        Name and factor of each module that leaked before, from pack negative [1].

    Notes
    -----
    The expected share of a module under a Dirichlet prior (Laplace's rule): with `n` modules,
    `w_i` the module's share of the cells and `c_i` the jobs in which it leaked, one pseudo-count
    a module is spread evenly over the cells, so ``share_i = (c_i + n w_i) / (sum c + n)``.
    Against a module that never leaked, cell for cell, that is ``1 + c_i / (n w_i)``, the factor
    given here, at most `MOST`. So history takes no module below a tenth of what it has without.

    Examples
    --------
    >>> from packs.definition import from_toml
    >>> from pathlib import Path
    >>> van = from_toml(Path("fixtures/packs/delivery-van.toml").read_text(encoding="utf-8"))
    >>> prior_of(History(jobs=9, modules={"M3": 4, "X9": 2}), van)
    (('M3', 5.0),)
    """
    whole = len(pack.modules) / pack.cells_total
    found = ((one, history.modules.get(one.name, 0)) for one in pack.modules)
    return tuple(
        (one.name, min(MOST, 1.0 + count / (whole * one.cells))) for one, count in found if count
    )


def prior_used(record: Record, item: Item[History]) -> Prior:
    """Give the prior that is switched on in a record; empty where none is."""
    history = record.get(item)
    return () if history is None or record.pack is None else prior_of(history, record.pack)


def agreeing(found: Searched, without: Searched) -> bool:
    """Tell whether the readings name and confirm the same modules without earlier jobs."""
    same = bool(found.named) and set(found.named) == set(without.named)
    return same and without.result is not None and without.result.confirmed


def history_words(history: History) -> Said:
    """Say what earlier jobs found, the most frequent first."""
    often = sorted(history.modules.items(), key=lambda one: (-one[1], one[0]))
    counts = ", ".join(f"{name} {count}\u00d7" for name, count in often)
    if history.jobs == 1:
        return Said("prior from one earlier job: {counts}", {"counts": counts})
    return Said(
        "prior from {jobs} earlier jobs: {counts}", {"jobs": history.jobs, "counts": counts}
    )


_SAID: Final = {
    "named": "they would name {modules}",
    "narrowed": "they would narrow it to {modules}",
    "undecided": "they would name none yet; likeliest {modules}",
    "no_leak": "they would show no leak",
}


def _without_said(without: Searched) -> Said:
    result = without.result
    if result is None:
        return Said("nothing was read yet")
    if result.inconsistent:
        return Said("they would contradict each other as well")
    names = ", ".join(without.named or result.likely[:3])
    return Said(_SAID[result.verdict], {"modules": names})


def history_facts(history: History | None, without: Searched) -> tuple[Fact, ...]:
    """Say that earlier jobs guided the search, and what the readings would say without them.

    Parameters
    ----------
    history : History | None
        What is switched on; None for nothing.
    without : Searched
        The search by the readings alone.

    Returns
    -------
    tuple[Fact, ...]
        Empty where it is off.
    """
    if history is None:
        return ()
    return (
        Fact(label="Earlier jobs guide the search", value=history_words(history)),
        Fact(label="The readings without earlier jobs", value=_without_said(without)),
    )
