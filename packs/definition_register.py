"""The register of definitions and drafts: one line each, searched and filtered. No Django."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from uuid import UUID

from packs.chemistries import CHEMISTRY_WORDS
from packs.definition_content import value_at
from packs.definition_fields import as_list, as_table, as_text
from packs.definition_form import DISCONNECTS

IN_USE, WITHDRAWN, DRAFT = "in_use", "withdrawn", "draft"
STATES: Final = ((IN_USE, "in use"), (WITHDRAWN, "withdrawn"), (DRAFT, "drafts"))
"""What a line of the register can be, in words."""

_PLUG: Final = dict(DISCONNECTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterLine:
    """A definition or a draft as the register shows it."""

    state: str
    name: str
    slug: str
    vehicle_text: str
    cells: str
    chemistry: str
    chemistry_words: str
    disconnect: str
    number: int | None
    changed_at: datetime
    withdrawn_at: datetime | None = None
    draft_id: UUID | None = None
    missing: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterFilter:
    """What the register is narrowed to; empty for all."""

    q: str = ""
    state: str = ""
    chemistry: str = ""


def line_of(
    content: Mapping[str, Any],
    *,
    state: str,
    number: int | None,
    changed_at: datetime,
    withdrawn_at: datetime | None = None,
    draft: tuple[UUID, int] | None = None,
) -> RegisterLine:
    """Make a line of a definition's content.

    Parameters
    ----------
    content : Mapping
        A definition's table, complete or not.
    state : str
        One of ``STATES``.
    number : int or None
        Its newest revision, or the one a draft is based on [1].
    changed_at, withdrawn_at : datetime or None
        When it was changed and taken out of use.
    draft : tuple of UUID and int, or None
        Of a draft its key and how many points are missing [1].

    Returns
    -------
    RegisterLine
        The line.
    """
    chemistry = as_text(content.get("chemistry"))
    return RegisterLine(
        state=state,
        name=as_text(content.get("name")) or as_text(content.get("slug")),
        slug=as_text(content.get("slug")),
        vehicle_text=as_text(content.get("vehicle_text")),
        cells=cells_in_words(content),
        chemistry=chemistry,
        chemistry_words=CHEMISTRY_WORDS.get(chemistry, ""),
        disconnect=_PLUG.get(as_text(value_at(content, "disconnect.kind")), ""),
        number=number,
        changed_at=changed_at,
        withdrawn_at=withdrawn_at,
        draft_id=None if draft is None else draft[0],
        missing=0 if draft is None else draft[1],
    )


def cells_in_words(content: Mapping[str, Any]) -> str:
    """Say how many modules of how many cells there are.

    Examples
    --------
    >>> cells_in_words({"modules": [{"cells": 6}, {"cells": 6}]})
    '2 × 6 = 12'
    >>> cells_in_words({"modules": [{"cells": 6}, {"cells": 8}, {"cells": 6}]})
    '2 × 6 + 1 × 8 = 20'
    """
    counts = [as_table(each).get("cells") for each in as_list(content.get("modules"))]
    whole = [each for each in counts if isinstance(each, int) and not isinstance(each, bool)]
    if not counts:
        return ""
    if len(whole) < len(counts):
        return f"{len(counts)} × ?"
    parts = " + ".join(f"{times} × {cells}" for cells, times in Counter(whole).items())
    return f"{parts} = {sum(whole)}"


@dataclass(frozen=True, slots=True)
class ModuleType:
    """Modules of one part number: how many, with how many cells each, and which."""

    part: str
    count: int
    cells: str
    names: tuple[str, ...]


def module_types(content: Mapping[str, Any]) -> tuple[ModuleType, ...]:
    """Return the module types of a pack by part number, in series order."""
    by_part: dict[str, list[Mapping[str, Any]]] = {}
    for each in as_list(content.get("modules")):
        by_part.setdefault(as_text(as_table(each).get("part")), []).append(as_table(each))
    return tuple(
        ModuleType(
            part,
            len(modules),
            ", ".join(sorted({str(module.get("cells", "?")) for module in modules})),
            tuple(as_text(module.get("name")) or "?" for module in modules),
        )
        for part, modules in by_part.items()
    )


def narrowed(lines: Iterable[RegisterLine], narrow: RegisterFilter) -> tuple[RegisterLine, ...]:
    """Return the lines that fit a filter: every word somewhere, state and chemistry.

    Parameters
    ----------
    lines : iterable of RegisterLine
        All of them.
    narrow : RegisterFilter
        What is looked for.

    Returns
    -------
    tuple of RegisterLine
        By name, a draft after the definition of the same name.
    """
    words = narrow.q.casefold().split()
    fitting = [each for each in lines if _fits(each, narrow, words)]
    return tuple(sorted(fitting, key=lambda each: (each.name.casefold(), each.state == DRAFT)))


def _fits(line: RegisterLine, narrow: RegisterFilter, words: Sequence[str]) -> bool:
    """Say whether a line is looked for."""
    if narrow.state and line.state != narrow.state:
        return False
    if narrow.chemistry and line.chemistry != narrow.chemistry:
        return False
    return all(any(word in text for text in _texts(line)) for word in words)


def _texts(line: RegisterLine) -> Iterator[str]:
    """Yield what is searched."""
    for text in (line.name, line.slug, line.vehicle_text, line.chemistry_words, line.disconnect):
        yield text.casefold()
