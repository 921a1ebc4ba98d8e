"""The manifest of a backup: what is inside, from which workshop, and how far its record went."""

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, Final

from workshop.backups.refusal import BackupRefused

FORMAT: Final = 1
MARK: Final = "coldbus_backup"
MANIFEST_NAME: Final = "manifest.json"
DAILY: Final = "daily"
BEFORE_MIGRATION: Final = "before-migration"
BY_HAND: Final = "by-hand"
REASONS: Final = (DAILY, BEFORE_MIGRATION, BY_HAND)
SHA256: Final = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Head:
    """How long the chain of one job is and where it ends."""

    job: str
    count: int
    hash: str


@dataclass(frozen=True, slots=True)
class Member:
    """One file inside the backup."""

    name: str
    size_bytes: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """What a backup says about itself."""

    workshop_id: str
    shop_name: str
    app_version: str
    migrations: tuple[str, ...]
    made_at: datetime
    reason: str
    jobs: int
    entries: int
    heads: tuple[Head, ...]
    members: tuple[Member, ...]
    epoch: str = ""
    key_id: str = ""
    signature: str = ""
    missing_attachments: tuple[str, ...] = ()
    keys_from_outside: tuple[str, ...] = ()

    @property
    def size_bytes(self) -> int:
        """The size of everything inside, unpacked."""
        return sum(member.size_bytes for member in self.members)


def signed_words(manifest: Manifest) -> bytes:
    """Give what is signed of a manifest: whose it is, when it was made, where each chain ended."""
    heads = "\n".join(f"{head.job} {head.count} {head.hash}" for head in manifest.heads)
    whose = f"{manifest.workshop_id} {manifest.made_at.isoformat()}"
    return f"coldbus backup heads\n{whose}\n{heads}".encode()


def write(manifest: Manifest) -> bytes:
    """Turn a manifest into JSON that a person can read too."""
    content = {MARK: FORMAT, **asdict(manifest), "made_at": manifest.made_at.isoformat()}
    return json.dumps(content, indent=1, ensure_ascii=False).encode()


def read(raw: bytes, path: str) -> Manifest:
    """Read a manifest.

    Parameters
    ----------
    raw : bytes
        The member ``manifest.json``.
    path : str
        The file it was found in, for the sentence of a refusal.

    Returns
    -------
    Manifest
        What the backup says about itself.

    Raises
    ------
    BackupRefused
        Where it is no manifest, a damaged one, or of a format not known yet.
    """
    try:
        content = json.loads(raw)
    except ValueError:
        raise BackupRefused("not_backup", path=path) from None
    if not isinstance(content, dict) or not isinstance(content.get(MARK), int):
        raise BackupRefused("not_backup", path=path)
    if content[MARK] > FORMAT:
        raise BackupRefused("newer_format", path=path, format=content[MARK])
    try:
        return _manifest(content)
    except (KeyError, TypeError, ValueError) as reason:
        why = f"its manifest is incomplete ({type(reason).__name__}: {reason})"
        raise BackupRefused("damaged", path=path, why=why) from None


def _manifest(content: Mapping[str, Any]) -> Manifest:
    """Fill the fields; anything missing or of the wrong kind raises."""
    made_at = datetime.fromisoformat(content["made_at"])
    if made_at.tzinfo is None:
        raise ValueError("made_at has no time zone")
    heads = [Head(str(h["job"]), int(h["count"]), str(h["hash"])) for h in content["heads"]]
    members = [
        Member(str(m["name"]), int(m["size_bytes"]), str(m["sha256"])) for m in content["members"]
    ]
    if not all(SHA256.fullmatch(member.sha256) for member in members):
        raise ValueError("a digest is not one")
    return Manifest(
        workshop_id=str(content["workshop_id"]),
        shop_name=str(content["shop_name"]),
        app_version=str(content["app_version"]),
        migrations=_texts(content["migrations"]),
        made_at=made_at,
        reason=str(content["reason"]),
        jobs=int(content["jobs"]),
        entries=int(content["entries"]),
        heads=tuple(heads),
        members=tuple(members),
        epoch=str(content.get("epoch", "")),
        key_id=str(content.get("key_id", "")),
        signature=str(content.get("signature", "")),
        missing_attachments=_texts(content.get("missing_attachments", ())),
        keys_from_outside=_texts(content.get("keys_from_outside", ())),
    )


def _texts(given: Any) -> tuple[str, ...]:
    """Read a list of texts."""
    return tuple(str(each) for each in given)
