"""A batch of entries in, a list of answers out; the same for one tablet and for the demo.

Here: well-formedness of what was sent, and answers as JSON. What is allowed is decided behind
the door (`jobs.actions.door`). Nothing here raises for anything a client sends.
"""

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext

from jobs.actions.door import Conflict, post
from jobs.actions.tablets import Heard
from jobs.core.draft import Answer, Draft
from jobs.core.entry import Kind
from jobs.core.reason import Blocker, say
from workshop import queries as shop
from workshop.figures_text import money_words
from workshop.people import PersonInfo
from workshop.registers import ShopInfo

__all__ = [
    "BATCH_LIMIT",
    "Malformed",
    "Sent",
    "answer_batch",
    "answers_shut_out",
    "malformed_answer",
    "read_sent",
]

BATCH_LIMIT = 200
DEPTH_LIMIT = 8
TEXT_LIMITS = {
    "item": 120,
    "qualifier": 300,
    "person": 36,
    "pin": 32,
    "seen_head": 64,
    "device": 64,
    "tablet_time": 40,
    "ticket": 600,
}
DEVICE_SEQ_LIMIT = 2**53 - 1
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_NAMES = {
    "key", "job", "kind", "value", "paper", "device_seq", "clock_offset_s", "sealed", *TEXT_LIMITS,
}  # fmt: skip
FORMATS = (1, 2)
"""Formats of a batch; a tablet that was not updated yet still sends the one before."""
DROPPED_LIMIT = 10_000
CLOCK_OFF_LIMIT_S = 100 * 366 * 86_400


@dataclass(frozen=True, slots=True)
class Malformed:
    """Something that is no entry; it says where and why."""

    key: str
    path: str
    why: str


@dataclass(frozen=True, slots=True)
class Sent:
    """A batch of entries, and what the tablet says of itself; None where it says nothing."""

    batch: list[Draft | Malformed]
    heard: Heard | None = None


def _clean(value: Any, depth: int = 0) -> bool:
    """Tell whether a JSON value is shallow and holds only text that can be stored."""
    if depth > DEPTH_LIMIT:
        return False
    if isinstance(value, str):
        return ("\0" not in value and value.isprintable()) or all(
            letter.isprintable() or letter in "\n\r\t" for letter in value
        )
    if isinstance(value, list):
        return all(_clean(member, depth + 1) for member in value)
    if isinstance(value, dict):
        return all(_clean(name) and _clean(each, depth + 1) for name, each in value.items())
    if isinstance(value, int) and not isinstance(value, bool):
        return abs(value) <= DEVICE_SEQ_LIMIT
    return not isinstance(value, float) or math.isfinite(value)


def _text_fault(raw: Mapping[str, Any]) -> tuple[str, str] | None:
    for name, limit in TEXT_LIMITS.items():
        text = raw.get(name, "")
        if not isinstance(text, str) or len(text) > limit:
            return name, f"text of at most {limit} characters"
    person = raw.get("person", "")
    if person and not _UUID.fullmatch(person):
        return "person", "an identifier (UUID, small letters)"
    return None


def _is_whole(number: Any, low: int, high: int) -> bool:
    return isinstance(number, int) and not isinstance(number, bool) and low <= number <= high


def _fault(raw: Mapping[str, Any]) -> tuple[str, str] | None:
    for name in ("key", "job"):
        if not isinstance(raw.get(name), str) or not _UUID.fullmatch(raw[name]):
            return name, "an identifier (UUID, small letters)"
    unknown = sorted(set(raw) - _NAMES)
    if unknown:
        return unknown[0][:40], "no field of an entry"
    if raw.get("kind") not in {str(kind) for kind in Kind}:
        return "kind", "a kind of entry"
    if not _is_whole(raw.get("device_seq", 0), 0, DEVICE_SEQ_LIMIT):
        return "device_seq", "a whole number from 0"
    offset_s = raw.get("clock_offset_s")
    if offset_s is not None and not _is_whole(offset_s, -CLOCK_OFF_LIMIT_S, CLOCK_OFF_LIMIT_S):
        return "clock_offset_s", "a whole number of seconds"
    return _text_fault(raw) or (None if _clean(raw) else ("value", "plain JSON"))


def _read_one(raw: object, index: int) -> Draft | Malformed:
    if not isinstance(raw, dict):
        return Malformed("", f"entries.{index}", "an object")
    fault = _fault(raw)
    if fault is not None:
        key = raw.get("key")
        known = key if isinstance(key, str) and _UUID.fullmatch(key) else ""
        return Malformed(known, f"entries.{index}.{fault[0]}", fault[1])
    return Draft(**{**raw, "kind": Kind(raw["kind"])})


def _no_constant(name: str) -> None:
    raise ValueError(name)


def _heard(content: Mapping[str, Any]) -> Heard | Malformed | None:
    """Read what the tablet says of itself; from format 2 on it always does."""
    if content.get("format", 1) == 1:
        return None
    device, made, dropped = content.get("device"), content.get("made"), content.get("dropped", [])
    if not isinstance(device, str) or not _UUID.fullmatch(device):
        return Malformed("", "device", "an identifier (UUID, small letters)")
    if not _is_whole(made, 0, DEVICE_SEQ_LIMIT):
        return Malformed("", "made", "a whole number from 0")
    if not isinstance(dropped, list) or len(dropped) > DROPPED_LIMIT:
        return Malformed("", "dropped", f"a list of at most {DROPPED_LIMIT}")
    numbers = [each.get("seq") if isinstance(each, dict) else None for each in dropped]
    if not all(_is_whole(number, 1, DEVICE_SEQ_LIMIT) for number in numbers):
        return Malformed("", "dropped", "running numbers, each a whole number from 1")
    return Heard(device=device, made=int(made or 0), dropped=tuple(int(n or 0) for n in numbers))


def read_sent(body: bytes) -> Sent | Malformed:
    """Read one entry, or a batch ``{"entries": [...]}``, from the body of a request.

    Parameters
    ----------
    body : bytes
        JSON, UTF-8.

    Returns
    -------
    Sent | Malformed
        One draft or fault an entry, in order; a single fault when the body is no batch at all.
        A batch of format 2 may be empty: then the tablet only says how it stands.
    """
    try:
        content = json.loads(body, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        return Malformed("", "", "JSON in UTF-8")
    if isinstance(content, dict) and "entries" not in content:
        content = {"entries": [content]}
    if not isinstance(content, dict) or content.get("format", 1) not in FORMATS:
        return Malformed("", "format", " or ".join(str(each) for each in FORMATS))
    entries, heard = content.get("entries"), _heard(content)
    if isinstance(heard, Malformed):
        return heard
    least = 1 if heard is None else 0
    if not isinstance(entries, list) or not least <= len(entries) <= BATCH_LIMIT:
        return Malformed("", "entries", f"a list of {least} to {BATCH_LIMIT} entries")
    return Sent([_read_one(raw, index) for index, raw in enumerate(entries)], heard)


def _reason(point: Blocker, names: Mapping[str, str], here: ShopInfo) -> dict[str, Any]:
    return {
        "code": point.code,
        "item": point.item,
        "qualifier": point.qualifier,
        "params": dict(point.params),
        "text": say(
            point.text,
            point.params,
            names=names,
            zone=here.zone,
            translate=gettext,
            money=lambda amount: money_words(amount, here.currency),
        ),
    }


def _shown(answer: Answer, here: ShopInfo) -> dict[str, Any]:
    ids = {
        str(value)
        for point in answer.blockers
        for name, value in point.params.items()
        if name.endswith("person") and _UUID.fullmatch(str(value))
    }
    names = shop.names(ids) if ids else {}
    shown: dict[str, Any] = {
        "key": answer.key,
        "verdict": answer.verdict,
        "reasons": [_reason(point, names, here) for point in answer.blockers],
        "head": answer.head,
        "seq": answer.seq,
    }
    if answer.verdict == "pin":
        shown |= {"tries_left": answer.tries_left, "locked_until": answer.locked_until}
    return shown


def malformed_answer(fault: Malformed) -> dict[str, Any]:
    """Give the answer to something that is no entry."""
    return {
        "key": fault.key,
        "verdict": "refused",
        "reasons": [
            {
                "code": "malformed",
                "item": "",
                "qualifier": "",
                "params": {"path": fault.path, "wanted": fault.why},
                "text": gettext("{path} has to be {wanted}.").format(
                    path=fault.path, wanted=fault.why
                ),
            }
        ],
        "head": "",
        "seq": 0,
    }


def answers_shut_out(batch: list[Draft | Malformed]) -> list[dict[str, Any]]:
    """Answer a device that is shut out: nothing is taken, everything waits there."""
    here = shop.shop()
    return [
        {**_shown(Answer(key=each.key, verdict="auth"), here), "shut_out": True} for each in batch
    ]


def answer_batch(
    batch: list[Draft | Malformed], *, signed_on: PersonInfo | None, now: datetime
) -> tuple[int, list[dict[str, Any]]]:
    """Take a batch entry by entry and answer each.

    Parameters
    ----------
    batch : list[Draft | Malformed]
        Drafts and faults, as `read_sent` gave them.
    signed_on : PersonInfo | None
        Who is signed on at the device.
    now : datetime
        The server's time (UTC).

    Returns
    -------
    tuple[int, list]
        HTTP status (200, 400 malformed, 401 nobody signed on, 409 key used for other content)
        and one answer an entry, in order.

    Notes
    -----
    Order is kept per job: after an entry that was not applied, later entries of the same job
    wait ("later"), so that nothing is applied on top of what is missing.
    """
    here = shop.shop()
    answers: list[dict[str, Any]] = []
    held: set[str] = set()
    status = 200
    for draft in batch:
        if isinstance(draft, Malformed):
            status = 400
            answers.append(malformed_answer(draft))
            continue
        if draft.job in held:
            answers.append(_shown(Answer(key=draft.key, verdict="later"), here))
            continue
        try:
            answer = post(draft, signed_on=signed_on, now=now)
        except Conflict:
            status = 409
            answers.append({"key": draft.key, "verdict": "conflict", "reasons": []})
            held.add(draft.job)
            continue
        if answer.verdict != "applied":
            held.add(draft.job)
        status = 401 if answer.verdict == "auth" else status
        answers.append(_shown(answer, here))
    return status, answers
