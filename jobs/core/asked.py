"""Which calculations an assessment asked, with what, and what came of them.

For those who want to follow a result by hand: while `noted` is open, whoever asks a calculation
leaves here what was given and what came back. Nothing in a record or a result depends on it.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any

from jobs.core.section import Said

__all__ = ["Asked", "note", "noted"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One calculation as it was asked.

    Attributes
    ----------
    name : str
        Of the calculation, as in `packs.calculation_list`; "section" for one part of a string.
    about : Said
        What it was asked about.
    given : Any
        The case, or the fields by name where the calculation takes fields.
    result : Any
        What came of it.
    """

    name: str
    about: Said
    given: Any
    result: Any


_NOTED: ContextVar[list[Asked] | None] = ContextVar("calculations asked", default=None)


@contextmanager
def noted() -> Iterator[list[Asked]]:
    """Collect what is asked while this is open, each question once."""
    found = list[Asked]()
    token = _NOTED.set(found)
    try:
        yield found
    finally:
        _NOTED.reset(token)


def note(name: str, about: Said, given: Any, result: Any) -> None:
    """Leave what was asked for whoever collects it."""
    found = _NOTED.get()
    asked = Asked(name=name, about=about, given=given, result=result)
    if found is not None and asked not in found:
        found.append(asked)
