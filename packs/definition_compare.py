"""Two definitions side by side: what was added, removed or changed, each with kind and source.

Works on content that may be unfinished, so a draft can be compared with its base. Which fields
there are is packs/definition_form.py. No Django, no files, no clock.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from packs.definition_content import value_at
from packs.definition_fields import (
    KINDS,
    Choice,
    Field,
    Lines,
    Number,
    Sourced,
    YesNo,
    as_list,
    as_table,
    as_text,
    number_text,
)
from packs.definition_form import SECTIONS
from packs.definition_rows import Group, Rows

Mark = Literal["same", "changed", "added", "removed"]


@dataclass(frozen=True, slots=True)
class Side:
    """What one of the two says: a text, and of a figure its kind and source."""

    text: str
    kind: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class ComparedLine:
    """One thing a definition says, in both."""

    label: tuple[str, ...]
    mark: Mark
    before: Side | None
    after: Side | None


@dataclass(frozen=True, slots=True)
class ComparedSection:
    """A section of the form with its lines."""

    title: str
    lines: tuple[ComparedLine, ...]


Key = tuple[str, ...]
Say = Callable[[str], str]
_KIND_WORDS: Final = dict(KINDS)


def compare(
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    *,
    say: Say = str,
    everything: bool = False,
) -> tuple[ComparedSection, ...]:
    """Compare two definitions field by field.

    Parameters
    ----------
    before, after : Mapping
        Their content, complete or not.
    say : callable
        Translates a word.
    everything : bool
        Whether to give what is the same too.

    Returns
    -------
    tuple of ComparedSection
        Only sections with lines. Rows are matched by name, lines of a list by their text, stages
        by position; where the order of what both have differs, a line says so.
    """
    sections = []
    for section in SECTIONS:
        lines: list[ComparedLine] = []
        for each in section.fields:
            old = dict(_sides(each, value_at(before, each.path), (each.label,), say))
            new = dict(_sides(each, value_at(after, each.path), (each.label,), say))
            lines += _lines(old, new)
            lines += _order(each, value_at(before, each.path), value_at(after, each.path))
        shown = tuple(line for line in lines if everything or line.mark != "same")
        if shown:
            sections.append(ComparedSection(section.title, shown))
    return tuple(sections)


def laid_out(content: Mapping[str, Any], say: Say = str) -> tuple[ComparedSection, ...]:
    """Lay out all that a definition says so far, for reading."""
    return compare({}, content, say=say)


def _lines(old: Mapping[Key, Side], new: Mapping[Key, Side]) -> Iterator[ComparedLine]:
    """Yield one line for each thing either says, in the order of the new one."""
    keys = [*new, *(key for key in old if key not in new)]
    for key in keys:
        before, after = old.get(key), new.get(key)
        mark: Mark = "changed"
        if before is None:
            mark = "added"
        elif after is None:
            mark = "removed"
        elif before == after:
            mark = "same"
        yield ComparedLine(key, mark, before, after)


def _sides(each: Field, value: Any, key: Key, say: Say) -> Iterator[tuple[Key, Side]]:
    """Yield what a value says, under the labels that lead to it."""
    match each:
        case Group():
            for part in each.fields:
                yield from _sides(part, as_table(value).get(part.path), (*key, part.label), say)
        case Rows():
            yield from _rows(each, as_list(value), key, say)
        case Lines():
            lines = [line for line in as_list(value) if isinstance(line, str)]
            for name, line in zip(_distinct(lines), lines, strict=True):
                yield (*key, name), Side(line)
        case _:
            side = _side(each, value, say)
            if side is not None:
                yield key, side


def _rows(rows: Rows, values: Sequence[Any], key: Key, say: Say) -> Iterator[tuple[Key, Side]]:
    """Yield what each row says as one side, under the row's name or position."""
    tables = [as_table(value) for value in values]
    named = [
        as_text(table.get("name")) or f"{say(rows.row.label)} {i}"
        for i, table in enumerate(tables, 1)
    ]
    for name, table in zip(_distinct(named), tables, strict=True):
        words, kind, source = [], "", ""
        for part in rows.row.fields:
            side = _side(part, table.get(part.path), say)
            if part.path == "kind":
                kind = side.text if side else ""
            elif part.path == "source":
                source = side.text if side else ""
            elif side is not None and part.path != "name":
                label = say(part.label)
                words.append(f"{label.lower()} {side.text}" if side.text else label)
        yield (*key, name), Side(", ".join(words), kind, source)


def _distinct(names: Sequence[str]) -> list[str]:
    """Give what occurs again a number, so that each is kept."""
    seen: dict[str, int] = {}
    found = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        found.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return found


def _side(each: Field, value: Any, say: Say) -> Side | None:
    """Return what a single field says; None where it says nothing."""
    if isinstance(each, Sourced):
        table = as_table(value)
        number = number_text(table.get("value"))
        kind = _KIND_WORDS.get(as_text(table.get("kind")), "")
        return Side(f"{number} {each.unit}", kind, as_text(table.get("source"))) if number else None
    if isinstance(each, Number):
        number = number_text(value)
        text = f"{number} {each.unit}".strip() if number else ""
    elif isinstance(each, YesNo):
        text = say({True: "yes", False: "no"}[value]) if isinstance(value, bool) else ""
    elif isinstance(each, Choice):
        text = say(dict(each.options).get(as_text(value), as_text(value)))
    else:
        text = as_text(value)
    return Side(text) if text else None


def _order(each: Field, before: Any, after: Any) -> Iterator[ComparedLine]:
    """Yield a line where what both lists have stands in another order."""
    if isinstance(each, Group):
        for part in each.fields:
            old, new = as_table(before).get(part.path), as_table(after).get(part.path)
            for line in _order(part, old, new):
                yield ComparedLine((each.label, *line.label), line.mark, line.before, line.after)
        return
    if not isinstance(each, Lines | Rows):
        return
    old_names, new_names = _names(before), _names(after)
    old_both = [name for name in old_names if name in new_names]
    new_both = [name for name in new_names if name in old_names]
    if old_both != new_both:
        sides = Side(", ".join(old_names)), Side(", ".join(new_names))
        yield ComparedLine((each.label, "order"), "changed", *sides)


def _names(value: Any) -> list[str]:
    """Return the names in a list, of lines or of rows."""
    found = [
        each if isinstance(each, str) else as_text(as_table(each).get("name"))
        for each in as_list(value)
    ]
    return [name for name in found if name]
