"""Content of a pack definition, possibly unfinished, between its table and the inputs of the form.

Content is a definition's table as TOML or JSON holds it. Which inputs there are is
packs/definition_form.py. No Django, no files, no clock.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from packs.definition_fields import FieldFault, Typed, as_table
from packs.definition_form import SECTIONS, FormSection

Content = dict[str, Any]


def value_at(content: Mapping[str, Any], path: str) -> Any:
    """Return what stands at a path such as ``lid.kind``; None where nothing does."""
    place: Any = content
    for step in path.split("."):
        place = as_table(place).get(step)
    return place


def with_value(content: Mapping[str, Any], path: str, value: Any) -> Content:
    """Return the content with a value set at a path, or taken out if it is None."""
    first, _, rest = path.partition(".")
    changed = dict(content)
    if rest:
        value = with_value(as_table(changed.get(first)), rest, value) or None
    if value is None:
        changed.pop(first, None)
    else:
        changed[first] = value
    return changed


def typed_of(section: FormSection, content: Mapping[str, Any]) -> dict[str, str]:
    """Return the inputs of a section as the content has them."""
    typed: dict[str, str] = {}
    for each in section.fields:
        typed |= each.write(value_at(content, each.path), each.path)
    return typed


def read_section(
    section: FormSection,
    typed: Typed,
    content: Mapping[str, Any],
    held: Mapping[str, Any] | None = None,
) -> tuple[Content, tuple[FieldFault, ...]]:
    """Put what was typed in a section into the content.

    Parameters
    ----------
    section : FormSection
        Which fields are read; all others stay as they are.
    typed : Mapping
        What stands in the inputs.
    content : Mapping
        The content before.
    held : Mapping or None
        What may stand as it stood: figures without source; the content itself if None.

    Returns
    -------
    Content, tuple of FieldFault
        The content with this section's values; where there are faults it is for drawing only.
    """
    stood = content if held is None else held
    changed: Content = dict(content)
    faults: list[FieldFault] = []
    for each in section.fields:
        found = each.read(typed, each.path, value_at(stood, each.path))
        faults += found.faults
        changed = with_value(changed, each.path, found.value)
    return changed, tuple(faults)


def tidied(table: Mapping[str, Any]) -> tuple[Content, tuple[str, ...]]:
    """Keep of a table what the form can hold.

    Parameters
    ----------
    table : Mapping
        Plain values, as TOML or JSON give them.

    Returns
    -------
    Content, tuple of str
        The content, and the paths that were left out because they do not fit.
    """
    content: Content = {"format": 1}
    for section in SECTIONS:
        content, _ = read_section(section, typed_of(section, table), content, table)
    return content, tuple(sorted(set(_leaves(table)) - set(_leaves(content))))


def _leaves(value: object, path: str = "") -> Iterator[str]:
    """Yield the path of everything that is no table or list."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _leaves(inner, f"{path}.{key}" if path else str(key))
    elif isinstance(value, list | tuple):
        for index, inner in enumerate(value):
            yield from _leaves(inner, f"{path}.{index + 1}")
    elif value not in ("", None):
        yield path
