"""Canonical bytes, hashes and seals.

Here: how an entry becomes bytes (RFC 8785) and a link of the chain, how personal text is
hashed with its salt, and how a result is turned into JSON so that a signature can seal it.
Not here: where the bytes are stored (`jobs.models`) and who checks them (`jobs.queries`).
"""

import dataclasses
import hashlib
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from enum import Enum
from typing import Any

import rfc8785
from pydantic import BaseModel

from jobs.core.entry import Json

__all__ = [
    "FIRST_PREVIOUS",
    "canonical",
    "entry_words",
    "fingerprint",
    "head_words",
    "link_hash",
    "same_sealed",
    "sealed",
    "text_hash",
]  # fmt: skip

FIRST_PREVIOUS = "0" * 64
"""What stands as the previous hash in the first entry of a job."""


def canonical(content: Json) -> bytes:
    """Give the one byte form of a JSON value (RFC 8785, JSON Canonicalization Scheme, 2020).

    Examples
    --------
    >>> canonical({"b": "2.50", "a": True})
    b'{"a":true,"b":"2.50"}'
    """
    return rfc8785.dumps(content)


def link_hash(previous: str, content: bytes) -> str:
    """Give the hash of an entry: SHA-256 over the previous hash and the canonical bytes.

    Examples
    --------
    >>> link_hash(FIRST_PREVIOUS, b"{}")[:12]
    '5649d09ed68c'
    """
    return hashlib.sha256(previous.encode("ascii") + b"\n" + content).hexdigest()


def entry_words(hash_: str) -> bytes:
    r"""Give what is signed of an entry: its hash, behind words that no other signature begins with.

    Examples
    --------
    >>> entry_words("ab12")
    b'coldbus entry\nab12'
    """
    return f"coldbus entry\n{hash_}".encode("ascii")


def head_words(job: str, count: int, hash_: str, unsigned: int) -> bytes:
    r"""Give what is signed of the end of a chain.

    Parameters
    ----------
    job : str
        Identifier of the job.
    count : int
        Number of its entries.
    hash_ : str
        Hash of the last one.
    unsigned : int
        How many of its first entries are older than signatures.

    Examples
    --------
    >>> head_words("7f", 2, "ab12", 0)
    b'coldbus head\n{"count":"2","hash":"ab12","job":"7f","unsigned":"0"}'
    """
    content: Json = {"job": job, "count": str(count), "hash": hash_, "unsigned": str(unsigned)}
    return b"coldbus head\n" + canonical(content)


def fingerprint(content: Json) -> str:
    """Give the digest by which the same content is recognised when it is sent again."""
    return hashlib.sha256(canonical(content)).hexdigest()


def text_hash(salt: str, text: str) -> str:
    """Give the salted hash that stands in an entry for erasable personal text."""
    return hashlib.sha256(f"{salt}\n{text}".encode()).hexdigest()


def _plain(result: Any) -> Any:
    """Reduce enumerations, models and dataclasses to plain containers and values."""
    if isinstance(result, Enum):
        return result.value
    if isinstance(result, BaseModel):
        return result.model_dump()
    if dataclasses.is_dataclass(result) and not isinstance(result, type):
        return {field.name: getattr(result, field.name) for field in dataclasses.fields(result)}
    if isinstance(result, set | frozenset):
        return sorted(result, key=str)
    return result


def sealed(result: Any) -> Json:
    """Turn a result (dataclasses, figures, numbers, times) into JSON with numbers as strings.

    Examples
    --------
    >>> from packs.definition import Figure
    >>> sealed((1.5, None, Figure(value=5.0, kind="shop_default", source="")))
    ['1.5', None, {'kind': 'shop_default', 'source': '', 'value': '5.0'}]
    """
    plain = _plain(result)
    if plain is None or isinstance(plain, bool | str):
        return plain
    if isinstance(plain, datetime | date):
        return plain.isoformat()
    if isinstance(plain, Mapping):
        return {str(name): sealed(plain[name]) for name in sorted(plain, key=str)}
    if isinstance(plain, Sequence):
        return [sealed(member) for member in plain]
    return repr(plain) if isinstance(plain, int | float) else str(plain)


def same_sealed(one: Json, other: Json) -> bool:
    """Say whether two sealed results say the same.

    Things that carry their name (pairs of a name and a value, or several fields) are compared in
    whatever order they stand: a database need not give the fields of a value back in the order in
    which they were written.

    Examples
    --------
    >>> same_sealed([["B1", "8"], ["B2", "9"]], [["B2", "9"], ["B1", "8"]])
    True
    >>> same_sealed([["B1", "8"], ["B2", "9"]], [["B1", "9"], ["B2", "8"]])
    False
    >>> same_sealed(["8", "9"], ["9", "8"])
    False
    """
    return bool(_in_order(one) == _in_order(other))


def _in_order(value: Json) -> Json:
    if isinstance(value, dict):
        return {name: _in_order(each) for name, each in value.items()}
    if not isinstance(value, list):
        return value
    members = [_in_order(each) for each in value]
    return sorted(members, key=canonical) if all(map(_is_named, members)) else members


def _is_named(member: Json) -> bool:
    match member:
        case [str(), _] | {}:
            return True
        case _:
            return False
