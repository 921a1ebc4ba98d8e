"""Takes a demo definition's table, changes it, and says how the changed one is refused."""

import copy
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from packs.definition import DefinitionRefused, from_toml
from packs.definition_text import emit_toml

PACKS = Path(__file__).parents[2] / "fixtures" / "packs"
Table = dict[str, Any]
Change = Callable[[Table], object]


def text_of(name: str = "delivery-van") -> str:
    return (PACKS / f"{name}.toml").read_text(encoding="utf-8")


def table_of(name: str = "delivery-van") -> Table:
    return tomllib.loads(text_of(name))


def changed(change: Change, name: str = "delivery-van") -> str:
    """Return the definition as TOML after a change to its table."""
    table = copy.deepcopy(table_of(name))
    change(table)
    return emit_toml(table)


def put(path: str, value: object) -> Change:
    """Return the change that sets one value; ``path`` is as in ``modules.2.cells``."""

    def change(table: Table) -> None:
        *way, last = (int(step) if step.isdigit() else step for step in path.split("."))
        place: Any = table
        for step in way:
            place = place[step]
        place[last] = value

    return change


def without(path: str) -> Change:
    """Return the change that takes one value out."""

    def change(table: Table) -> None:
        *way, last = (int(step) if step.isdigit() else step for step in path.split("."))
        place: Any = table
        for step in way:
            place = place[step]
        del place[last]

    return change


def problems_of(text: str | bytes) -> list[str]:
    """Return what is wrong with a text, one line a problem; empty if nothing."""
    try:
        from_toml(text)
    except DefinitionRefused as refusal:
        return [str(problem) for problem in refusal.problems]
    return []
