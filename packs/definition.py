"""The door to pack definitions: what a kind of pack is, with every limit and its source.

`from_toml` reads one or refuses it with everything that is wrong, `read_table` one that may be
unfinished; `to_toml` writes it back; `digest` is its fingerprint. The whole is in
packs/definition_pack.py, its pieces in packs/definition_parts.py, the TOML in
packs/definition_text.py; revisions are stored by packs/actions. No Django, no files, no clock.
"""

import hashlib

import rfc8785
from pydantic import ValidationError

from packs.definition_pack import CURVES, FORMAT, PackDefinition
from packs.definition_parts import (
    Cooling,
    Disconnect,
    Figure,
    FigureKind,
    IsolationPoint,
    Lid,
    Module,
    Part,
    ProofPoint,
    SealTest,
    Stack,
    TorqueList,
    TorqueStage,
)
from packs.definition_text import (
    DefinitionRefused,
    Problem,
    emit_toml,
    parse_toml,
    problems_in,
    shown,
)

__all__ = [
    "CURVES",
    "FORMAT",
    "Cooling",
    "DefinitionRefused",
    "Disconnect",
    "Figure",
    "FigureKind",
    "IsolationPoint",
    "Lid",
    "Module",
    "PackDefinition",
    "Part",
    "Problem",
    "ProofPoint",
    "SealTest",
    "Stack",
    "TorqueList",
    "TorqueStage",
    "digest",
    "from_toml",
    "read_table",
    "to_toml",
]


def from_toml(text: str | bytes) -> PackDefinition:
    """Read a pack definition, or refuse it with everything that is wrong.

    Parameters
    ----------
    text : str or bytes
        The file's content; bytes are taken as UTF-8.

    Returns
    -------
    PackDefinition
        The definition.

    Raises
    ------
    DefinitionRefused
        With `problems`: each says where, what is wrong and how to mend it.

    Notes
    -----
    A format newer than this program's is refused before anything else is looked at.
    """
    table = read_table(text)
    try:
        return PackDefinition.model_validate(table)
    except ValidationError as error:
        raise DefinitionRefused(problems_in(error, _field_names())) from error


def read_table(text: str | bytes) -> dict[str, object]:
    """Read the table of a definition that may be unfinished.

    Parameters
    ----------
    text : str or bytes
        The file's content; bytes are taken as UTF-8.

    Returns
    -------
    dict
        The table as written, unchecked.

    Raises
    ------
    DefinitionRefused
        If it cannot be read, or was written for a newer format than this program's.
    """
    table = parse_toml(text)
    written = table.get("format")
    if isinstance(written, int) and written > FORMAT:
        wrong = f"{shown(written)} is newer than this program reads, which is {FORMAT}"
        raise DefinitionRefused([Problem("format", wrong, "Update this program first.")])
    return table


def to_toml(definition: PackDefinition) -> str:
    """Write a definition as TOML that `from_toml` reads back to an equal one.

    Parameters
    ----------
    definition : PackDefinition
        The definition.

    Returns
    -------
    str
        The text.
    """
    return emit_toml(definition.model_dump(mode="json", exclude_none=True))


def digest(definition: PackDefinition) -> str:
    """Return the fingerprint of a definition's content, whatever its layout in the file.

    Parameters
    ----------
    definition : PackDefinition
        The definition.

    Returns
    -------
    str
        SHA-256 over the canonical JSON, in hexadecimal.

    Notes
    -----
    RFC 8785 (2020), JSON Canonicalization Scheme; fields without a value are left out.
    """
    content = definition.model_dump(mode="json", exclude_none=True)
    return hashlib.sha256(rfc8785.dumps(content)).hexdigest()


def _field_names() -> set[str]:
    """Return every field name of every piece."""
    pieces: list[type[Part]] = [PackDefinition, *Part.__subclasses__()]
    return {name for piece in pieces for name in piece.model_fields}
