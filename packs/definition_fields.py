"""Kinds of field of a definition's form: between the content of a definition and text as typed.

A field writes content as flat text by name (``cell_low_v.value``) and reads it back with the
faults it finds. Tables and lists of fields are packs/definition_rows.py, which fields there are is
packs/definition_form.py. No Django, no files, no clock.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import isfinite
from typing import Any, Final

from typing_extensions import override

Typed = Mapping[str, str]
"""What stands in the inputs, by name."""

LONGEST = 500
"""Characters in one text [1]."""

LONGEST_SLUG = 60
"""Characters in a short name [1]."""

YES, NO, ON = "yes", "no", "on"
KINDS: Final = (("maker", "maker"), ("regulation", "regulation"), ("shop_default", "shop default"))
YES_NO: Final = ((YES, "yes"), (NO, "no"))

FAULTS: Final = {
    "number": "Write a number, such as 62.5 or 62,5, without grouping.",
    "count": "Write a whole number.",
    "too_long": "This is too long.",
    "one_line": "Keep it on one line, without control characters.",
    "unknown_choice": "Choose one of the list.",
    "value_missing": "Write the value, or empty the source too.",
    "kind_missing": "Choose where the figure comes from.",
    "source_missing": "Name the document and place, or why the shop holds it so.",
    "none_and_some": "Either tick that there are none, or list them.",
    "too_many_rows": "There are too many lines.",
    "slug": "Use lower-case letters and digits, joined by hyphens.",
    "needed": "Fill this in.",
}
"""Code of a fault to its sentence, which is translated where it is shown."""

_NUMBER: Final = re.compile(r"[-+]?[0-9]{1,40}([.,][0-9]{1,60})?")
_SLUG: Final = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_COUNT: Final = re.compile(r"[0-9]{1,9}")
_CONTROL: Final = re.compile(r"[\x00-\x1f\x7f]")
_RUN: Final = re.compile(
    r"(?P<stem>[^\W\d_]*)(?P<first>[0-9]{1,3})\.\.(?P=stem)(?P<last>[0-9]{1,3})"
)


@dataclass(frozen=True, slots=True)
class FieldFault:
    """What is wrong with one input: its name, and a code of ``FAULTS``."""

    name: str
    code: str


@dataclass(frozen=True, slots=True)
class Read:
    """What a field's inputs say: the value, None where nothing is said, and the faults."""

    value: Any = None
    faults: tuple[FieldFault, ...] = ()


def number_text(value: object) -> str:
    """Write a number as a person types it; anything else is empty.

    Examples
    --------
    >>> number_text(307.0), number_text(0.1), number_text(1e-06), number_text("a")
    ('307', '0.1', '0.000001', '')
    """
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        return ""
    text = format(Decimal(repr(value)), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def number_of(text: str) -> float | None:
    """Read a number typed with comma or point; None where it is none."""
    if not _NUMBER.fullmatch(text):
        return None
    return float(text.replace(",", "."))


def as_text(value: object) -> str:
    """Return a text as it is; anything else is empty."""
    return value if isinstance(value, str) else ""


def as_list(value: object) -> Sequence[Any]:
    """Return a list as it is; anything else is empty."""
    return value if isinstance(value, list | tuple) else ()


def as_table(value: object) -> Mapping[str, Any]:
    """Return a table as it is; anything else is empty."""
    return value if isinstance(value, Mapping) else {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field: where it stands in the content, and what it is called."""

    path: str
    label: str
    help: str = ""

    def write(self, value: object, at: str) -> dict[str, str]:
        """Return the inputs that stand for a value."""
        return {at: as_text(value)}

    def read(self, typed: Typed, at: str, before: object = None) -> Read:
        """Return what the inputs say; ``before`` is what the content held."""
        raise NotImplementedError

    def is_typed(self, typed: Typed, at: str) -> bool:
        """Say whether a person wrote something; a choice alone is not writing."""
        return bool(typed.get(at, "").strip())


@dataclass(frozen=True, slots=True, kw_only=True)
class Text(Field):
    """One line of text; ``keeps_empty`` stores an empty one, ``rows`` draws it higher."""

    keeps_empty: bool = False
    slug: bool = False
    modules: bool = False
    wide: bool = False

    @override
    def read(self, typed: Typed, at: str, before: object = None) -> Read:
        """Return the line without spaces around it."""
        text = typed.get(at, "").strip()
        if not text:
            return Read("" if self.keeps_empty or before == "" else None)
        if len(text) > LONGEST:
            return Read(None, (FieldFault(at, "too_long"),))
        if _CONTROL.search(text):
            return Read(None, (FieldFault(at, "one_line"),))
        if self.slug and (len(text) > LONGEST_SLUG or not _SLUG.fullmatch(text)):
            return Read(None, (FieldFault(at, "slug"),))
        return Read(text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice(Field):
    """One of some words."""

    options: tuple[tuple[str, str], ...]

    @override
    def read(self, typed: Typed, at: str, before: object = None) -> Read:
        """Return the code chosen."""
        code = typed.get(at, "")
        if not code:
            return Read()
        if code not in dict(self.options):
            return Read(None, (FieldFault(at, "unknown_choice"),))
        return Read(code)

    @override
    def write(self, value: object, at: str) -> dict[str, str]:
        """Return the code, if it is one of the options."""
        code = as_text(value)
        return {at: code if code in dict(self.options) else ""}

    @override
    def is_typed(self, typed: Typed, at: str) -> bool:
        """Say no: a choice alone is not writing."""
        return False


@dataclass(frozen=True, slots=True, kw_only=True)
class YesNo(Choice):
    """Yes, no, or not said yet."""

    options: tuple[tuple[str, str], ...] = YES_NO

    @override
    def read(self, typed: Typed, at: str, before: object = None) -> Read:
        """Return true or false."""
        found = Choice.read(self, typed, at)
        return Read(None if found.value is None else found.value == YES, found.faults)

    @override
    def write(self, value: object, at: str) -> dict[str, str]:
        """Return the word for true or false."""
        return {at: {True: YES, False: NO}[value] if isinstance(value, bool) else ""}


@dataclass(frozen=True, slots=True, kw_only=True)
class Number(Field):
    """A number without a kind of its own, with its unit."""

    unit: str = ""

    @override
    def write(self, value: object, at: str) -> dict[str, str]:
        """Return the number as text."""
        return {at: number_text(value)}

    @override
    def read(self, typed: Typed, at: str, before: object = None) -> Read:
        """Return the number."""
        text = typed.get(at, "").strip()
        if not text:
            return Read()
        value = number_of(text)
        return Read(value, () if value is not None else (FieldFault(at, "number"),))


@dataclass(frozen=True, slots=True, kw_only=True)
class Count(Number):
    """A whole number."""

    @override
    def write(self, value: object, at: str) -> dict[str, str]:
        """Return the count as text."""
        whole = isinstance(value, int) and not isinstance(value, bool)
        return {at: str(value) if whole and abs(int(str(value)[:12])) < 10**9 else ""}

    @override
    def read(self, typed: Typed, at: str, before: object = None) -> Read:
        """Return the count."""
        text = typed.get(at, "").strip()
        if not text:
            return Read()
        if not _COUNT.fullmatch(text):
            return Read(None, (FieldFault(at, "count"),))
        return Read(int(text))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sourced(Field):
    """A figure: its value with unit, its kind and its source."""

    unit: str = ""

    @override
    def write(self, value: object, at: str) -> dict[str, str]:
        """Return the three inputs."""
        table = as_table(value)
        kind = as_text(table.get("kind"))
        return {
            f"{at}.value": number_text(table.get("value")),
            f"{at}.kind": kind if kind in dict(KINDS) else "",
            f"{at}.source": as_text(table.get("source")),
        }

    @override
    def is_typed(self, typed: Typed, at: str) -> bool:
        """Say whether a value or a source stands there."""
        return any(typed.get(f"{at}.{part}", "").strip() for part in ("value", "source"))

    @override
    def read(self, typed: Typed, at: str, before: object = None) -> Read:
        """Return the figure; without a source only what stood there like that before."""
        if not self.is_typed(typed, at):
            return Read()
        number = Number(path="value", label="").read(typed, f"{at}.value")
        kind = Choice(path="kind", label="", options=KINDS).read(typed, f"{at}.kind")
        source = Text(path="source", label="").read(typed, f"{at}.source")
        faults = [*number.faults, *kind.faults, *source.faults]
        said = {"value": number.value, "kind": kind.value, "source": source.value or ""}
        value = {key: each for key, each in said.items() if each is not None}
        if not faults and number.value is None:
            faults.append(FieldFault(f"{at}.value", "value_missing"))
        if not kind.faults and kind.value is None:
            faults.append(FieldFault(f"{at}.kind", "kind_missing"))
        if not source.faults and not source.value and not stood(value, (before,)):
            faults.append(FieldFault(f"{at}.source", "source_missing"))
        return Read(value, tuple(faults))


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines(Field):
    """A list of texts, one on each line; ``none`` offers to say that there are none."""

    none: str = ""
    runs: bool = False

    @override
    def write(self, value: object, at: str) -> dict[str, str]:
        """Return the lines, and whether it was said that there are none."""
        lines = [line for line in as_list(value) if isinstance(line, str)]
        said = bool(self.none) and isinstance(value, list | tuple) and not lines
        return {at: "\n".join(lines), f"{at}.none": ON if said else ""}

    @override
    def read(self, typed: Typed, at: str, before: object = None) -> Read:
        """Return the lines that are not empty."""
        raw = typed.get(at, "").replace("\r\n", "\n").split("\n")
        lines = [line for each in raw if (text := each.strip()) for line in self._run(text)]
        if typed.get(f"{at}.none") and self.none:
            return Read([], (FieldFault(at, "none_and_some"),) if lines else ())
        if any(_CONTROL.search(line) for line in lines):
            return Read(None, (FieldFault(at, "one_line"),))
        if any(len(line) > LONGEST for line in lines):
            return Read(None, (FieldFault(at, "too_long"),))
        if len(lines) > LONGEST:
            return Read(None, (FieldFault(at, "too_many_rows"),))
        return Read(lines or None)

    def _run(self, line: str) -> list[str]:
        """Return L1, L2, L3 for a line L1..L3."""
        match = _RUN.fullmatch(line) if self.runs else None
        if match is None:
            return [line]
        return [
            f"{match['stem']}{number}"
            for number in range(int(match["first"]), int(match["last"]) + 1)
        ]


def stood(value: Mapping[str, Any], before: Sequence[object]) -> bool:
    """Say whether a shop default without source stood like that before."""
    if value.get("kind") != "shop_default":
        return False
    plain = {key: each for key, each in value.items() if each != ""}
    return any(
        plain == {key: each for key, each in as_table(held).items() if each != ""}
        for held in before
    )
