"""A first draft of a definition from topology alone: modules, cells, chemistry, disconnect.

What can be computed or is usual in the trade is proposed with kind "shop default" and a source
that says so; what must come from the vehicle stays missing. No Django, no files, no clock.
"""

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from math import ceil
from typing import Any, Final, Literal

from packs.chemistries import CHEMISTRY_WORDS
from packs.definition import FORMAT
from packs.definition_content import Content

Direction = Literal["there_and_back", "rows"]

MOST_MODULES = 200
MOST_IN_LINE = 50
"""Modules, and rows or columns, that a definition can hold [1]."""

TO_CONFIRM: Final = "to be confirmed against the label"

CELLS_V: Final = {
    "nmc": (2.8, 3.65, 4.2),
    "nca": (2.7, 3.6, 4.2),
    "lfp": (2.5, 3.2, 3.65),
    "lmo_blend": (3.0, 3.75, 4.15),
}
"""Lowest, nominal and highest voltage usual for a cell of each chemistry [V]; shop default."""


LIMITS: Final[tuple[tuple[str, float, str, str], ...]] = (
    (
        "open_charge_limit_percent",
        30.0,
        "shop_default",
        "Usual in the trade: less energy in the modules while the pack is open",
    ),
    (
        "wait_min",
        10.0,
        "shop_default",
        "Longest of the waits usual among makers, 5 to 10 min; the maker's own figure comes first",
    ),
    ("proof_hours", 4.0, "shop_default", "Half a working day; prove again after any longer break"),
    (
        "prove_gap_min",
        10.0,
        "shop_default",
        "Both proofs of the indicator within minutes of the test",
    ),
    (
        "dead_v",
        5.0,
        "shop_default",
        "Far below the 60 V of UN R100, as a charged pack stands behind the point",
    ),
    (
        "isolation_limit_ohm_per_v",
        500.0,
        "shop_default",
        "As UN R100 asks of joined direct and alternating current; the maker's figure comes first",
    ),
    (
        "isolation_after_repair_ohm_per_v",
        500.0,
        "shop_default",
        "A repaired pack is at least as good as one in use",
    ),
    ("bonding_limit_ohm", 0.1, "regulation", "UN R100, protection against indirect contact"),
    ("rest_h", 3.0, "shop_default", "Time for cell voltages to settle after current"),
)
"""Limits of the trade: field, value in the unit that ends its name, kind, source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Topology:
    """What a person can see or count before any maker's data is at hand.

    ``cells`` holds one number for each module, or a single one for all; voltages are those of the
    label [V], None where it cannot be read.
    """

    name: str
    vehicle_text: str
    slug: str
    chemistry: str
    modules: int
    cells: tuple[int, ...]
    part: str = ""
    rows: int = 1
    columns: int | None = None
    direction: Direction = "there_and_back"
    disconnect: Literal["string_plug", "low_voltage_loop", "none"] = "string_plug"
    after: int | None = None
    nominal_v: float | None = None
    highest_v: float | None = None
    label_text: str = ""

    @property
    def cells_of_each(self) -> tuple[int, ...]:
        """Cells in series of every module."""
        return self.cells * self.modules if len(self.cells) == 1 else self.cells

    @property
    def across(self) -> int:
        """Modules in a row."""
        return self.columns or ceil(self.modules / max(1, self.rows))


@dataclass(frozen=True, slots=True)
class TopologyFault:
    """What does not fit: the field, a code, and what its sentence needs."""

    name: str
    code: str
    parameters: Mapping[str, object] = field(default_factory=dict)


FAULTS: Final = {
    "needed": "Fill this in.",
    "number": "Write a number above zero.",
    "count": "Write a whole number from 1 to {most}.",
    "cells_count": "There are {given} numbers of cells for {modules} modules. Write one for all, "
    "or one for each.",
    "too_small": "{places} places are too few for {modules} modules.",
    "after": "Write a module from 1 to {last}: the plug lies after it.",
    "slug": "Use lower-case letters and digits, joined by hyphens.",
    "unknown_choice": "Choose one of the list.",
    "voltage": "{given} V does not lie between {low} V and {high} V, which {cells} cells of this "
    "chemistry can have. Check the label, the modules and their cells.",
}
"""Code of a fault to its sentence, which is translated where it is shown."""


def faults_in(topology: Topology) -> tuple[TopologyFault, ...]:
    """Return what does not fit together.

    Parameters
    ----------
    topology : Topology
        As typed.

    Returns
    -------
    tuple of TopologyFault
        None if a draft can be made of it.
    """
    return tuple(_faults(topology))


def _faults(topology: Topology) -> Iterator[TopologyFault]:
    """Yield what does not fit together."""
    for name in ("name", "vehicle_text"):
        if not getattr(topology, name).strip():
            yield TopologyFault(name, "needed")
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", topology.slug) or len(topology.slug) > 60:  # noqa: PLR2004 - as in the definition
        yield TopologyFault("slug", "slug")
    if topology.chemistry not in CELLS_V:
        yield TopologyFault("chemistry", "unknown_choice")
    if not 1 <= topology.modules <= MOST_MODULES:
        yield TopologyFault("modules", "count", {"most": MOST_MODULES})
        return
    if len(topology.cells) not in {1, topology.modules}:
        counts = {"given": len(topology.cells), "modules": topology.modules}
        yield TopologyFault("cells", "cells_count", counts)
        return
    if not all(1 <= cells <= MOST_MODULES for cells in topology.cells):
        yield TopologyFault("cells", "count", {"most": MOST_MODULES})
        return
    yield from _places(topology)
    yield from _voltages(topology)


def _places(topology: Topology) -> Iterator[TopologyFault]:
    """Yield a grid that is too small, or a plug that parts nothing."""
    if not 1 <= topology.rows <= MOST_IN_LINE:
        yield TopologyFault("rows", "count", {"most": MOST_IN_LINE})
    elif not 1 <= topology.across <= MOST_IN_LINE:
        where = "columns" if topology.columns else "rows"
        yield TopologyFault(where, "count", {"most": MOST_IN_LINE})
    elif topology.rows * topology.across < topology.modules:
        places = {"places": topology.rows * topology.across, "modules": topology.modules}
        yield TopologyFault("columns", "too_small", places)
    last = topology.modules - 1
    if topology.disconnect == "string_plug" and not 1 <= (topology.after or 0) <= last:
        yield TopologyFault("after", "after", {"last": max(1, last)})


def _voltages(topology: Topology) -> Iterator[TopologyFault]:
    """Yield a voltage of the label that these cells cannot have."""
    if topology.chemistry not in CELLS_V:
        return
    low_v, _, high_v = CELLS_V[topology.chemistry]
    cells = sum(topology.cells_of_each)
    for name in ("nominal_v", "highest_v"):
        given_v = getattr(topology, name)
        if given_v is not None and not cells * low_v <= given_v <= cells * high_v * 1.02:
            bounds = {"low": f"{cells * low_v:.4g}", "high": f"{cells * high_v:.4g}"}
            parameters = {"given": f"{given_v:g}", "cells": cells, **bounds}
            yield TopologyFault(name, "voltage", parameters)


def slug_of(name: str) -> str:
    """Propose a short name for addresses.

    Examples
    --------
    >>> slug_of("Halden Orrin, delivery van (37 kWh)")
    'halden-orrin-delivery-van-37-kwh'
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[:60].strip("-")


def place_of(index: int, across: int, direction: Direction) -> tuple[int, int]:
    """Return row and column of the module at a position in the string, all counted from 1 or 0.

    Parameters
    ----------
    index : int
        Position in series, counted from 0 [1].
    across : int
        Modules in a row [1].
    direction : str
        There and back, or every row from the same side.

    Returns
    -------
    tuple of int
        Row and column, counted from 1.

    Examples
    --------
    >>> place_of(2, 3, "there_and_back"), place_of(3, 3, "there_and_back"), place_of(3, 3, "rows")
    ((1, 3), (2, 3), (2, 1))
    """
    row, step = divmod(index, max(1, across))
    back = direction == "there_and_back" and row % 2 == 1
    return row + 1, across - step if back else step + 1


def content_of(topology: Topology) -> Content:
    """Make the first content of a draft.

    Parameters
    ----------
    topology : Topology
        Without faults.

    Returns
    -------
    Content
        With everything that topology, chemistry and the trade's usual limits can say.
    """
    names = [f"M{number}" for number in range(1, topology.modules + 1)]
    content: Content = {
        "format": FORMAT,
        "slug": topology.slug,
        "name": topology.name.strip(),
        "vehicle_text": topology.vehicle_text.strip(),
        "chemistry": topology.chemistry,
        "strings_in_parallel": 1,
        "modules": list(_modules(topology, names)),
        "isolation_points": list(_points(topology, names)),
        "disconnect": _disconnect(topology, names),
        "cautions": list(_cautions(topology, names)),
    }
    if topology.label_text.strip():
        content["label_text"] = topology.label_text.strip()
    content |= _volts(topology)
    for name, value, kind, source in LIMITS:
        content[name] = {"value": value, "kind": kind, "source": source}
    return content


def _modules(topology: Topology, names: list[str]) -> Iterator[dict[str, Any]]:
    """Yield the modules in series order, each at its place."""
    for index, (name, cells) in enumerate(zip(names, topology.cells_of_each, strict=True)):
        row, column = place_of(index, topology.across, topology.direction)
        module = {"name": name, "cells": cells, "part": topology.part.strip()}
        yield {**{k: v for k, v in module.items() if v}, "row": row, "column": column}


def _disconnect(topology: Topology, names: list[str]) -> dict[str, Any]:
    """Return the disconnect."""
    if topology.disconnect != "string_plug" or topology.after is None:
        return {"kind": topology.disconnect}
    return {"kind": topology.disconnect, "after_module": names[topology.after - 1]}


def _points(topology: Topology, names: list[str]) -> Iterator[dict[str, str]]:
    """Yield the poles that every string has, as reachable with the lid off only."""
    ends = [("String negative", names[0], "neg")]
    if topology.disconnect == "string_plug" and topology.after is not None:
        ends.append(("Disconnect, negative side", names[topology.after - 1], "pos"))
        ends.append(("Disconnect, positive side", names[topology.after], "neg"))
    ends.append(("String positive", names[-1], "pos"))
    for name, module, pole in ends:
        where = "From the topology: confirm at the pack, and whether it is reachable when closed"
        yield {
            "name": name,
            "module": module,
            "pole": pole,
            "where": where,
            "reachable": "lid_off",
        }


def _cautions(topology: Topology, names: list[str]) -> Iterator[str]:
    """Yield what can hurt whatever the maker says."""
    yield "Modules cannot be switched off: inside the pack work is live work, two people present."
    if topology.disconnect == "string_plug" and topology.after is not None:
        first, second = names[topology.after - 1], names[topology.after]
        yield f"With the disconnect out both parts, up to {first} and from {second}, stay live."
    else:
        yield "No plug parts the string: treat the pack connector as live until proven dead."
    yield "Drawn up from topology: the vehicle maker's service information comes first."


def _volts(topology: Topology) -> Content:
    """Return the voltages: those of the label, else computed proposals."""
    cells = sum(topology.cells_of_each)
    low_v, nominal_v, high_v = CELLS_V[topology.chemistry]
    words = CHEMISTRY_WORDS[topology.chemistry]
    usual = f"Usual for {words} cells, to be confirmed by the maker's data"
    content: Content = {
        "cell_low_v": {"value": low_v, "kind": "shop_default", "source": usual},
        "cell_high_v": {"value": high_v, "kind": "shop_default", "source": usual},
    }
    for name, given_v, cell_v in (
        ("nominal_v", topology.nominal_v, nominal_v),
        ("highest_v", topology.highest_v, high_v),
    ):
        if given_v is not None:
            content[name] = {"value": given_v, "kind": "maker", "source": "Pack label"}
            continue
        source = f"Computed from {cells} cells at {cell_v:g} V, {TO_CONFIRM}"
        content[name] = {
            "value": round(cells * cell_v, 1),
            "kind": "shop_default",
            "source": source,
        }
    return content
