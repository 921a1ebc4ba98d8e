"""Opening the PIN that a tablet sealed for one entry.

The box holds the PIN with the entry's key and the hash of its content, so it opens nothing but
that entry. Not here: the key pair (`workshop.seal_keys`) and the counting of tries
(`workshop.actions.pin`); a box that was wrong once is remembered, so that sending it again
after a lost answer does not count again.
"""

import base64
import binascii
import hashlib
import json
from datetime import datetime, timedelta
from hmac import compare_digest
from typing import Any, Final

from jobs.core.draft import Draft
from jobs.models import WrongSeal
from workshop.seal_keys import open_sealed

__all__ = ["REMEMBERED", "pin_in", "remember_wrong", "was_wrong"]

REMEMBERED: Final = timedelta(days=30)
"""How long a wrong box is remembered; a tablet forgets its receipts long before."""


def _box_of(draft: Draft) -> tuple[str, bytes] | None:
    """Give name of the key and bytes of the box; None where none was sent, or no box."""
    sent = draft.sealed
    if not isinstance(sent, dict):
        return None
    key_id, box = sent.get("key_id"), sent.get("box")
    if not isinstance(key_id, str) or not isinstance(box, str):
        return None
    try:
        return key_id, base64.b64decode(box, validate=True)
    except binascii.Error:
        return None


def _read(raw: bytes | None) -> dict[str, Any]:
    try:
        held = json.loads(raw) if raw is not None else {}
    except ValueError:
        return {}
    return held if isinstance(held, dict) else {}


def pin_in(draft: Draft, content: str, now: datetime) -> str:
    """Give the PIN sealed for this very entry.

    Parameters
    ----------
    draft : Draft
        What was sent.
    content : str
        Hex SHA-256 of the draft's content, in canonical JSON.
    now : datetime
        The server's time (UTC): a former key opens for a while only.

    Returns
    -------
    str
        The PIN; empty where there is no box, or one for another key, entry or content.
    """
    found = _box_of(draft)
    held = {} if found is None else _read(open_sealed(*found, now))
    pin, bound = held.get("pin"), f"{held.get('key')} {held.get('hash')}"
    fits = compare_digest(bound.encode(), f"{draft.key} {content}".encode())
    return pin if fits and isinstance(pin, str) else ""


def _digest(draft: Draft) -> str:
    found = _box_of(draft)
    return "" if found is None else hashlib.sha256(found[1]).hexdigest()


def was_wrong(draft: Draft) -> bool:
    """Tell whether this very box was tried before and was wrong."""
    return WrongSeal.objects.filter(pk=_digest(draft)).exists()


def remember_wrong(draft: Draft, now: datetime) -> None:
    """Remember a wrong box, and forget those that no tablet sends any more."""
    WrongSeal.objects.filter(at__lt=now - REMEMBERED).delete()
    digest = _digest(draft)
    if digest:
        WrongSeal.objects.get_or_create(pk=digest, defaults={"at": now})
