"""What an unfinished definition still lacks, in plain words, each with the field it belongs to.

The rules are those of packs/definition_pack.py. Where other fields are missing, the rules about
several fields are asked all the same as far as what they need is there. No Django, no files.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from pydantic import ValidationError

from packs.definition import FORMAT, PackDefinition
from packs.definition_content import Content
from packs.definition_fields import Field, Lines, Sourced
from packs.definition_form import SECTIONS, FormSection, every_field
from packs.definition_rows import Group, Rows
from packs.definition_text import Problem, located_problems, ordinal

Place = tuple[str | int, ...]

_PARTS: Final = ("disconnect", "lid", "seal_test", "cooling")
"""Tables whose own fields are asked for one by one, even while nothing of them is there."""

_VOLTAGES: Final = frozenset({"modules", "cell_low_v", "cell_high_v", "nominal_v", "highest_v"})
_NEEDS: Final = {
    "cell_low_v": frozenset({"cell_low_v", "cell_high_v"}),
    "nominal_v": _VOLTAGES - {"highest_v"},
    "highest_v": _VOLTAGES - {"cell_low_v"},
    "curve": frozenset({"chemistry", "curve"}),
    "isolation_after_repair_ohm_per_v": frozenset(
        {"isolation_limit_ohm_per_v", "isolation_after_repair_ohm_per_v"}
    ),
    "disconnect": frozenset({"disconnect", "modules"}),
    "isolation_points": frozenset({"disconnect", "modules", "isolation_points"}),
}
"""Fields that a rule about a field stands on; a rule not named stands on its field alone."""


@dataclass(frozen=True, slots=True)
class Lack:
    """One thing missing or wrong: the form's section, the input's anchor, and the words."""

    section: str
    title: str
    anchor: str
    label: tuple[str, ...]
    wrong: str
    mend: str
    missing: bool
    times: int = 1


@dataclass(frozen=True, slots=True)
class Checked:
    """A content as checked: the definition if it is complete, else what it lacks."""

    definition: PackDefinition | None
    lacks: tuple[Lack, ...]

    def lacks_in(self, section: str) -> tuple[Lack, ...]:
        """Return what one section of the form lacks."""
        return tuple(lack for lack in self.lacks if lack.section == section)


def checked(content: Mapping[str, Any]) -> Checked:
    """Check a content as far as it goes.

    Parameters
    ----------
    content : Mapping
        A definition's table, possibly unfinished.

    Returns
    -------
    Checked
        With everything that is missing or wrong, in the order of the form.
    """
    table = _asked(content)
    try:
        return Checked(PackDefinition.model_validate(table), ())
    except ValidationError as error:
        found = located_problems(error, ())
        kinds = {details["loc"]: details["type"] for details in error.errors(include_url=False)}
    faulty = {str(place[0]) for place, _ in found if place}
    found += _rules(table, faulty)
    lacks = [_lack(place, problem, kinds.get(place) == "missing") for place, problem in found]
    return Checked(None, tuple(_merged(lacks)))


def _asked(content: Mapping[str, Any]) -> Content:
    """Return the content with the tables whose fields are asked for one by one."""
    table = {key: value for key, value in content.items() if value is not None}
    table.setdefault("format", FORMAT)
    for part in _PARTS:
        table.setdefault(part, {})
    return table


def _rules(table: Content, faulty: set[str]) -> list[tuple[Place, Problem]]:
    """Ask the rules about several fields with stand-ins for the faulty ones."""
    if not faulty:
        return []
    known = {key: value for key, value in table.items() if key in PackDefinition.model_fields}
    stand_ins = {key: value for key, value in _STAND_IN.items() if key in faulty}
    usable = {key: value for key, value in known.items() if key not in faulty}
    try:
        PackDefinition.model_validate({**usable, **stand_ins})
    except ValidationError as error:
        return [
            (place, problem)
            for place, problem in located_problems(error, ())
            if place and not faulty & _NEEDS.get(str(place[0]), frozenset({str(place[0])}))
        ]
    return []


def _merged(lacks: list[Lack]) -> list[Lack]:
    """Put the same lack of several rows into one, and order all as the form is."""
    order = {section.slug: index for index, section in enumerate(SECTIONS)}
    merged: dict[tuple[str, ...], list[Lack]] = {}
    for lack in sorted(lacks, key=lambda each: order.get(each.section, -1)):
        row = re.search(r"-\d+-", lack.anchor)
        alike = re.sub(r"-\d+-", "-*-", lack.anchor, count=1)
        key = (
            (lack.section, alike, lack.wrong) if row and lack.missing else (lack.anchor, lack.wrong)
        )
        merged.setdefault(key, []).append(lack)
    return [_together(same) for same in merged.values()]


def _together(same: list[Lack]) -> Lack:
    """Return one lack for several alike."""
    first = same[0]
    if len(same) == 1:
        return first
    label = (first.label[0], first.label[-1])
    return replace(first, label=label, times=len(same))


def _lack(place: Place, problem: Problem, missing: bool) -> Lack:  # noqa: FBT001 - one of its three facts
    """Return a problem with the input it belongs to."""
    found = _field_at(place)
    if found is None:
        words = (problem.path or "The definition",)
        return Lack("", "", "", words, problem.wrong, problem.mend, missing)
    section, each = found
    rest = place[len(each.path.split(".")) :]
    steps, labels = _inside(each, rest)
    anchor = "-".join(["f", *each.path.split("."), *steps])
    wrong, mend = in_words(problem.wrong), in_words(problem.mend)
    return Lack(section.slug, section.title, anchor, (each.label, *labels), wrong, mend, missing)


def _field_at(place: Place) -> tuple[FormSection, Field] | None:
    """Return the field of the form a place belongs to."""
    words = [str(step) for step in place]
    for section, each in every_field():
        path = each.path.split(".")
        if words[: len(path)] == path or (words and path[: len(words)] == words):
            return section, each
    return None


def _inside(each: Field, rest: Place) -> tuple[list[str], list[str]]:
    """Return the rest of an anchor and of a label, inside one field."""
    if isinstance(each, Sourced):
        step = str(rest[0]) if rest else "value"
        return [step], [step] if step != "value" else []
    if isinstance(each, Lines) or not rest:
        return [], []
    if isinstance(each, Rows) and isinstance(rest[0], int):
        steps, labels = _inside(each.row, rest[1:])
        return [str(rest[0]), *steps], [ordinal(rest[0] + 1), *labels]
    if isinstance(each, Group):
        for part in each.fields:
            if part.path == rest[0]:
                steps, labels = _inside(part, rest[1:])
                return [part.path, *steps], [part.label, *labels]
    return [], []


def in_words(sentence: str) -> str:
    """Put the labels of fields in the place of their names.

    Examples
    --------
    >>> in_words("is not below cell_high_v")
    'is not below “Cell, highest voltage”'
    """
    return _NAMES.sub(lambda match: f"“{_LABELS[match[0]]}”", sentence)


_LABELS: Final = {
    each.path.rpartition(".")[2]: each.label
    for _, each in every_field()
    if "_" in each.path.rpartition(".")[2]
}
_NAMES: Final = re.compile(r"\b(" + "|".join(sorted(_LABELS, key=len, reverse=True)) + r")\b")


def _at(value: float) -> dict[str, Any]:
    """Return a figure that stands in."""
    return {"value": value, "kind": "shop_default", "source": ""}


_BOLTS: Final = {
    "name": "-",
    "positions": ["1"],
    "stages": [{"target_nm": 1.0, "tolerance_percent": 1.0, "kind": "shop_default"}],
    "pattern": "in_order",
    "replace_bolts": False,
}
_STAND_IN: Final[Content] = {
    "format": FORMAT,
    "slug": "x",
    "name": "-",
    "vehicle_text": "",
    "label_text": "",
    "chemistry": "nmc",
    "curve": None,
    "parallel_cells": 1,
    "strings_in_parallel": 1,
    "cell_low_v": _at(1.0),
    "cell_high_v": _at(2.0),
    "nominal_v": _at(1.5),
    "highest_v": _at(2.0),
    "capacity_ah": _at(1.0),
    "mass_kg": _at(1.0),
    "open_charge_limit_percent": _at(30.0),
    "wait_min": _at(10.0),
    "proof_hours": _at(4.0),
    "prove_gap_min": _at(10.0),
    "dead_v": _at(5.0),
    "isolation_limit_ohm_per_v": _at(500.0),
    "isolation_after_repair_ohm_per_v": _at(500.0),
    "bonding_limit_ohm": _at(0.1),
    "interlock": True,
    "modules_coded": True,
    "sense_lead_order": [],
    "bonding_points": [],
    "vehicle_parts": [],
    "cautions": [],
    "modules": [{"name": "-", "cells": 1, "part": "-", "row": 1, "column": 1}],
    "proof_points": [{"name": "-", "where": ""}],
    "isolation_points": [],
    "disconnect": {"kind": "none"},
    "lid": {"kind": "not_serviceable"},
    "seal_test": {"method": "none", "source": "-"},
    "cooling": {"kind": "none"},
    "busbar_joints": _BOLTS,
    "mounts": _BOLTS,
}
"""A value for each field that lets the rules about the others be asked; it is shown nowhere."""
