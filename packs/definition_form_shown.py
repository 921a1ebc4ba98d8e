"""A section of the definition's form as it is drawn: inputs with what was typed and what is wrong.

The fields are packs/definition_form.py; templates/packs/pack_field.html draws them. The
sentences are translated by the caller's function. No Django, no files, no clock.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from packs.definition_fields import (
    FAULTS,
    KINDS,
    Choice,
    Count,
    Field,
    FieldFault,
    Lines,
    Number,
    Sourced,
    Text,
    Typed,
)
from packs.definition_form import FormSection
from packs.definition_rows import Group, Rows

Say = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Option:
    """One of a choice."""

    code: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A row of a list; the last one is empty and waits to be filled."""

    index: int
    number: int
    parts: tuple["Shown", ...]
    filled: bool
    first: bool
    last: bool

    @property
    def key(self) -> str:
        """Its index as text, for names on the page."""
        return str(self.index)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """An input, or what holds several."""

    kind: str
    name: str
    label: str
    help: str = ""
    value: str = ""
    unit: str = ""
    number: str = ""
    wide: bool = False
    options: tuple[Option, ...] = ()
    parts: tuple["Shown", ...] = ()
    rows: tuple[ShownRow, ...] = ()
    add: str = ""
    none: str = ""
    none_said: bool = False
    lines: int = 3
    faults: tuple[str, ...] = ()

    @property
    def anchor(self) -> str:
        """Name of its element on the page."""
        return "f-" + self.name.replace(".", "-")

    @property
    def button(self) -> str:
        """Beginning of the names of its buttons on the page."""
        return "b-" + self.name.replace(".", "-")


@dataclass(frozen=True, slots=True)
class _Page:
    """What every input needs to know of the page."""

    typed: Typed
    faults: Mapping[str, tuple[str, ...]]
    modules: tuple[str, ...]
    say: Say

    def faults_at(self, name: str) -> tuple[str, ...]:
        """Return the sentences of what is wrong with an input."""
        return tuple(self.say(FAULTS[code]) for code in self.faults.get(name, ()))


def shown_section(
    section: FormSection,
    typed: Typed,
    faults: Sequence[FieldFault],
    modules: Sequence[str],
    say: Say,
) -> tuple[Shown, ...]:
    """Lay a section out as inputs.

    Parameters
    ----------
    section : FormSection
        Its fields.
    typed : Mapping
        What stands in the inputs.
    faults : sequence of FieldFault
        What is wrong with them.
    modules : sequence of str
        Names of the modules that can be chosen.
    say : callable
        Translates a sentence.

    Returns
    -------
    tuple of Shown
        One for each field.
    """
    by_name: dict[str, tuple[str, ...]] = {}
    for fault in faults:
        by_name[fault.name] = (*by_name.get(fault.name, ()), fault.code)
    page = _Page(typed, by_name, tuple(dict.fromkeys(modules)), say)
    return tuple(_shown(each, each.path, page) for each in section.fields)


def _shown(each: Field, at: str, page: _Page) -> Shown:
    """Lay one field out."""
    match each:
        case Rows():
            return _rows(each, at, page)
        case Group():
            parts = tuple(_shown(part, f"{at}.{part.path}", page) for part in each.fields)
            about = page.say(each.help) if each.help else ""
            return Shown(kind="group", name=at, label=page.say(each.label), help=about, parts=parts)
        case Sourced():
            return _figure(each, at, page)
        case Lines():
            return _lines(each, at, page)
        case _:
            return _single(each, at, page)


def _lines(each: Lines, at: str, page: _Page) -> Shown:
    """Lay a list of texts out."""
    value = page.typed.get(at, "")
    return Shown(
        kind="lines",
        name=at,
        label=page.say(each.label),
        help=page.say(each.help) if each.help else "",
        value=value,
        none=page.say(each.none) if each.none else "",
        none_said=bool(page.typed.get(f"{at}.none")),
        lines=min(12, max(3, value.count("\n") + 2)),
        faults=page.faults_at(at),
    )


def _single(each: Field, at: str, page: _Page) -> Shown:
    """Lay a text, a number or a choice out."""
    value = page.typed.get(at, "")
    options: tuple[Option, ...] = ()
    if isinstance(each, Choice):
        options = _options(each.options, value, page)
    elif isinstance(each, Text) and each.modules:
        options = _options(tuple((name, name) for name in page.modules), value, page)
    return Shown(
        kind="choice" if options else "text",
        name=at,
        label=page.say(each.label),
        help=page.say(each.help) if each.help else "",
        value=value,
        unit=each.unit if isinstance(each, Number) else "",
        number=_number(each),
        wide=isinstance(each, Text) and each.wide,
        options=options,
        faults=page.faults_at(at),
    )


def _number(each: Field) -> str:
    """Return which keypad an input opens."""
    if isinstance(each, Count):
        return "numeric"
    return "decimal" if isinstance(each, Number) else ""


def _options(known: tuple[tuple[str, str], ...], chosen: str, page: _Page) -> tuple[Option, ...]:
    """Return the options, the empty one first; what was chosen stays one of them."""
    listed = [*known] if not chosen or chosen in dict(known) else [*known, (chosen, chosen)]
    return (
        Option("", "–", not chosen),
        *(Option(code, page.say(text), code == chosen) for code, text in listed),
    )


def _figure(each: Sourced, at: str, page: _Page) -> Shown:
    """Lay a figure out: value, kind, source."""
    kind = page.typed.get(f"{at}.kind", "")
    parts = (
        Shown(
            kind="text",
            name=f"{at}.value",
            label=page.say("Value"),
            value=page.typed.get(f"{at}.value", ""),
            unit=each.unit,
            number="decimal",
            faults=page.faults_at(f"{at}.value"),
        ),
        Shown(
            kind="choice",
            name=f"{at}.kind",
            label=page.say("Kind"),
            options=_options(KINDS, kind, page),
            faults=page.faults_at(f"{at}.kind"),
        ),
        Shown(
            kind="text",
            name=f"{at}.source",
            label=page.say("Source"),
            value=page.typed.get(f"{at}.source", ""),
            wide=True,
            faults=page.faults_at(f"{at}.source"),
        ),
    )
    return Shown(
        kind="figure",
        name=at,
        label=page.say(each.label),
        help=page.say(each.help) if each.help else "",
        parts=parts,
        faults=page.faults_at(at),
    )


def _rows(each: Rows, at: str, page: _Page) -> Shown:
    """Lay a list out, with one empty row more at its end."""
    indices = each.indices(page.typed, at)
    if not indices or each.row.is_typed(page.typed, f"{at}.{indices[-1]}"):
        indices = [*indices, (indices[-1] + 1) if indices else 0]
    filled = [each.row.is_typed(page.typed, f"{at}.{index}") for index in indices]
    last = max((place for place, full in enumerate(filled) if full), default=-1)
    rows = tuple(
        ShownRow(
            index=index,
            number=place + 1,
            parts=tuple(
                _shown(part, f"{at}.{index}.{part.path}", page) for part in each.row.fields
            ),
            filled=filled[place],
            first=place == 0,
            last=place >= last,
        )
        for place, index in enumerate(indices)
    )
    return Shown(
        kind="rows",
        name=at,
        label=page.say(each.label),
        help=page.say(each.help) if each.help else "",
        rows=rows,
        add=page.say(each.add),
        faults=page.faults_at(at),
    )
