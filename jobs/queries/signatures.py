"""Whether entries and the ends of chains bear the signature of this workshop.

The keys come from the data folder or from a list kept elsewhere, never from the database, so that
whoever can write into the database cannot make it trust another key.
"""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from jobs.core.seal import entry_words, head_words
from jobs.models import ChainHead, Entry
from workshop.signing_keys import SigningKey, trusted_keys

__all__ = ["Keys", "entry_signature_faults", "head_fits", "head_signature_faults"]

Keys = Mapping[str, SigningKey]
UNKNOWN: Final = "is signed with a key that is not this workshop's"


def _bytes(kept: bytes | memoryview | None) -> bytes:
    return b"" if kept is None else bytes(kept)


def entry_signature_faults(
    row: Entry, content: Mapping[str, Any], unsigned: int, keys: Keys, *, practice: bool
) -> Iterator[str]:
    """Say what is wrong with the signature of an entry.

    Parameters
    ----------
    row : Entry
        The entry.
    content : Mapping[str, Any]
        Its canonical bytes, read; they name the key.
    unsigned : int
        How many of the first entries are older than signatures, as the head says.
    keys : Mapping[str, SigningKey]
        The keys that are trusted, by name.
    practice : bool
        Whether the job's time runs ahead, so that its times tell nothing of a key's end.

    Yields
    ------
    str
        Each fault.
    """
    name, signature = content.get("key_id"), _bytes(row.signature)
    if name is None:
        if row.seq > unsigned:
            yield "it is not signed"
        elif signature:
            yield "it bears a signature though it is older than signatures"
        return
    key = keys.get(str(name))
    if key is None:
        yield f"it {UNKNOWN} ({name})"
    elif not signature:
        yield "its signature is missing"
    elif not key.fits(entry_words(row.hash), signature):
        yield "its signature does not fit"
    elif not practice and key.ended_before(row.at):
        yield f"it was signed after the key {name} had ended"


def _fits(head: ChainHead, key: SigningKey) -> bool:
    words = head_words(str(head.job_id), head.count, head.hash, head.unsigned)
    return key.fits(words, _bytes(head.signature))


def head_fits(head: ChainHead) -> bool:
    """Say whether a head is as this workshop signed it."""
    key = trusted_keys().get(head.key_id)
    return key is not None and _fits(head, key)


def head_signature_faults(head: ChainHead, keys: Keys) -> Iterator[str]:
    """Say what is wrong with the signature of the end of a chain."""
    key = keys.get(head.key_id)
    if not head.key_id or not head.signature:
        yield "the end of its chain is not signed"
    elif key is None:
        yield f"the end of its chain {UNKNOWN} ({head.key_id})"
    elif not _fits(head, key):
        yield "the signature of the end of its chain does not fit"
