"""The signed list of where every chain ends: kept elsewhere, it shows what was wound back.

A chain and its signatures cannot tell that its last entries were cut off together with the head,
or that all of it was written anew with the workshop's own key. A list made before, on a stick or
in a backup, can. Beside the chains of jobs it covers those of quarantine checks and disposals, and
what else is only ever added: the desk's log, numbers set aside, the registers' history. Of the
desk's log the words are left out, because they are erased on request.
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final
from uuid import UUID

from django.db.models import QuerySet

from jobs.core.seal import canonical
from jobs.models import (
    ChainHead,
    DeskEvent,
    Disposal,
    Entry,
    Job,
    QuarantineCheck,
    QuarantineWatch,
    SetAside,
)
from jobs.queries.signatures import Keys
from workshop import queries as shop
from workshop import signing_keys
from workshop.row_digests import rows_digest

__all__ = ["HeadsList", "heads_faults", "heads_list", "read_heads"]

MARK: Final = "coldbus_heads"
FORMAT: Final = 1
SETTLED_AFTER: Final = timedelta(minutes=1)
"""What was written longer ago than this is committed, so that counting it again gives the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Where one chain ends: of the job, watch or subject with this identifier."""

    kind: str
    id: str
    name: str
    count: int
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """How many rows a log had up to a moment, and one digest of them all."""

    kind: str
    count: int
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadsList:
    """What was there when the list was made."""

    workshop: str
    made_at: datetime
    chains: tuple[Chain, ...]
    logs: tuple[Log, ...]


# ---------------------------------------------------------------- what is there


def _job_chains() -> Iterator[Chain]:
    for head in ChainHead.objects.select_related("job").order_by("job__number").iterator():
        yield Chain(
            kind="job",
            id=str(head.job_id),
            name=head.job.number,
            count=head.count,
            digest=head.hash,
        )


def _last_of(rows: Iterable[tuple[Any, str, int, str]], kind: str) -> Iterator[Chain]:
    """Give the last of each chain from rows in order: identifier, name, place, digest."""
    last = {str(of): (name, seq, digest) for of, name, seq, digest in rows}
    for of, (name, seq, digest) in sorted(last.items()):
        yield Chain(kind=kind, id=of, name=name, count=seq, digest=digest)


def _chains() -> Iterator[Chain]:
    yield from _job_chains()
    checks = QuarantineCheck.objects.order_by("watch_id", "seq")
    yield from _last_of(checks.values_list("watch_id", "watch__module", "seq", "digest"), "watch")
    ended = QuarantineWatch.objects.filter(ended_at__isnull=False).order_by("id")
    for row in ended:
        digest = row.ended_digest
        yield Chain(kind="watch_end", id=str(row.id), name=row.module, count=1, digest=digest)
    gone = Disposal.objects.order_by("subject", "seq")
    yield from _last_of(gone.values_list("subject", "serial", "seq", "digest"), "disposal")
    count, digest = shop.sign_in_end()
    yield Chain(kind="sign_ins", id="", name="", count=count, digest=digest)


def _desk(row: DeskEvent) -> dict[str, Any]:
    return {
        "key": str(row.key),
        "job": str(row.job_id),
        "kind": row.kind,
        "at": row.at.astimezone(UTC).isoformat(),
        "person": str(row.person),
        "values": row.values,
        "due_on": str(row.due_on),
        "about": str(row.about),
    }


def _set_aside(row: SetAside) -> dict[str, Any]:
    return {
        "key": str(row.key),
        "tablet": row.tablet_id,
        "at": row.at.astimezone(UTC).isoformat(),
        "person": str(row.person),
        "reason": row.reason,
        "made": row.made,
        "numbers": row.numbers,
    }


def _logs(until: datetime) -> Iterator[Log]:
    desk = DeskEvent.objects.filter(at__lte=until).iterator()
    aside = SetAside.objects.filter(at__lte=until).iterator()
    for kind, (count, digest) in (
        ("desk", rows_digest(_desk(row) for row in desk)),
        ("set_aside", rows_digest(_set_aside(row) for row in aside)),
        ("registers", shop.history_digest(until)),
    ):
        yield Log(kind=kind, count=count, digest=digest)


def heads_list(now: datetime) -> bytes:
    """Make the list and sign it.

    Parameters
    ----------
    now : datetime
        The server's time (UTC).

    Returns
    -------
    bytes
        A JSON text for a file.
    """
    content: dict[str, Any] = {
        MARK: FORMAT,
        "workshop": shop.shop().workshop_id,
        "made_at": now.astimezone(UTC).isoformat(),
        "chains": [asdict(chain) for chain in _chains()],
        "logs": [asdict(log) for log in _logs(now - SETTLED_AFTER)],
    }
    signed = signing_keys.sign(_words(content))
    content |= {"key_id": signed.key_id, "signature": signed.signature.hex()}
    return json.dumps(content, indent=1, ensure_ascii=False).encode() + b"\n"


def _words(content: Mapping[str, Any]) -> bytes:
    unsigned = {name: content[name] for name in content if name not in {"key_id", "signature"}}
    return b"coldbus heads\n" + canonical(unsigned)


# ---------------------------------------------------------------- against a list made before


def read_heads(raw: bytes, keys: Keys) -> HeadsList:
    """Read such a list.

    Parameters
    ----------
    raw : bytes
        The file.
    keys : Mapping[str, SigningKey]
        The keys that are trusted.

    Returns
    -------
    HeadsList
        What was there when it was made.

    Raises
    ------
    ValueError
        Where it is no such list, or not signed by a trusted key as it stands.
    """
    try:
        content = json.loads(raw)
        if content[MARK] > FORMAT:
            raise ValueError("the list of heads is of a newer format")
        key = keys.get(str(content["key_id"]))
        if key is None:
            raise ValueError(f"the list is signed with an unknown key ({content['key_id']})")
        if not key.fits(_words(content), bytes.fromhex(content["signature"])):
            raise ValueError("the signature of the list does not fit: it was changed")
        return HeadsList(
            workshop=content["workshop"],
            made_at=datetime.fromisoformat(content["made_at"]),
            chains=tuple(Chain(**row) for row in content["chains"]),
            logs=tuple(Log(**row) for row in content["logs"]),
        )
    except (KeyError, TypeError) as reason:
        raise ValueError(f"this is no list of heads ({reason!r})") from None


_SAID: Final = {
    "job": "job {name}",
    "watch": "the quarantine watch of {name}",
    "watch_end": "the end of the quarantine watch of {name}",
    "disposal": "the disposal of {name}",
    "desk": "the desk's log",
    "set_aside": "the numbers set aside",
    "sign_ins": "the log of sign-ins",
    "registers": "the history of the registers",
}


def _digest_then(chain: Chain) -> str | None:
    """Give the digest that stands today at the place where a chain ended then; None where gone."""
    rows: QuerySet[Any]
    if chain.kind == "sign_ins":
        return shop.sign_in_digest(chain.count) if chain.count else chain.digest
    if chain.kind == "job":
        if chain.count == 0:
            return chain.digest if Job.objects.filter(pk=chain.id).exists() else None
        rows = Entry.objects.filter(job_id=chain.id, seq=chain.count).values_list("hash")
    elif chain.kind == "watch":
        rows = QuarantineCheck.objects.filter(watch_id=UUID(chain.id), seq=chain.count)
        rows = rows.values_list("digest")
    elif chain.kind == "watch_end":
        rows = QuarantineWatch.objects.filter(pk=chain.id, ended_at__isnull=False)
        rows = rows.values_list("ended_digest")
    else:
        rows = Disposal.objects.filter(subject=chain.id, seq=chain.count).values_list("digest")
    found = rows.first()
    return None if found is None else str(found[0])


def heads_faults(then: HeadsList) -> Iterator[str]:
    """Say where the record does not continue what a list made before says.

    Parameters
    ----------
    then : HeadsList
        The list, read and found signed.

    Yields
    ------
    str
        Each chain or log that lost something, or that is another.
    """
    if then.workshop != shop.shop().workshop_id:
        yield "the list of heads is another workshop's"
        return
    for chain in then.chains:
        name = _SAID[chain.kind].format(name=chain.name)
        now = _digest_then(chain)
        if now is None:
            yield f"{name} had {chain.count} entries when the list was made and has fewer now"
        elif now != chain.digest:
            yield f"{name} is not the one of the list, at entry {chain.count} or before it"
    today = {log.kind: log for log in _logs(then.made_at - SETTLED_AFTER)}
    for log in then.logs:
        if today[log.kind] != log:
            yield f"{_SAID[log.kind]} up to the time of the list is not what it was then"
