"""The certificates in the data folder: made at the first need, the server's made anew in time.

The authority's key is the one thing that could speak for this server elsewhere. It may be taken
off to a stick; without it the server's certificate goes on until it ends or an address changes.
What it may sign for was settled when tablets began to trust it: a name that the computer was given
later is left out of the server's certificate, because tablets would refuse it whole.
"""

import os
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec

from workshop.serving import data_folder
from workshop.serving.authority.certificates import (
    ALWAYS,
    Signed,
    covers,
    fingerprint,
    make_authority,
    make_server,
    names_of,
)

__all__ = [
    "RENEW_BEFORE",
    "SERVER_KEY_NAME",
    "SERVER_NAME",
    "AuthorityAway",
    "Kept",
    "Told",
    "begin_anew",
    "bring_back",
    "prepare",
    "read_key",
    "still_good",
    "take_off",
    "told",
    "uncovered",
]

SERVER_NAME: Final = "server.crt"
SERVER_KEY_NAME: Final = "server.key"
TITLE: Final = "Coldbus workshop"
RENEW_BEFORE: Final = timedelta(days=60)


class AuthorityAway(Exception):
    """The server's certificate has to be made anew, and the authority's key is not here."""


@dataclass(frozen=True, slots=True)
class Kept:
    """Files of the server's certificate and key."""

    certificate: Path
    key: Path


@dataclass(frozen=True, slots=True)
class Told:
    """What is said of the certificates; `fingerprint` and `until` are the authority's."""

    fingerprint: str
    server_until: datetime | None
    names: frozenset[str]
    key_here: bool
    until: datetime


def _read_certificate(path: Path) -> x509.Certificate | None:
    return x509.load_pem_x509_certificate(path.read_bytes()) if path.is_file() else None


def read_key(path: Path) -> ec.EllipticCurvePrivateKey | None:
    """Read a key of the authority or of the server; None where there is none."""
    if not path.is_file():
        return None
    key = serialization.load_pem_private_key(path.read_bytes(), password=None)
    return key if isinstance(key, ec.EllipticCurvePrivateKey) else None


def _write_through(path: Path, raw: bytes) -> None:
    """Write a new file, and wait until the disk has it."""
    with data_folder.new_file(path) as file:
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())


def _write_whole(path: Path, raw: bytes) -> None:
    """Write a new file on another disk, and read it back."""
    _write_through(path, raw)
    # Some kinds of stick know no such thing for a folder; the file itself is there by now.
    with suppress(OSError):
        data_folder.sync_folder(path.parent)
    if path.read_bytes() != raw:
        raise OSError(f"{path} was not written whole")


def _authority(folder: Path, names: Sequence[str], now: datetime) -> Signed | None:
    """Give the authority, made at the first need; None where its key was taken off."""
    certificate = _read_certificate(folder / data_folder.AUTHORITY_NAME)
    key = read_key(folder / data_folder.AUTHORITY_KEY_NAME)
    if certificate is not None:
        return None if key is None else Signed(certificate, key)
    made = make_authority(TITLE, names, now)
    data_folder.replace_file(folder / data_folder.AUTHORITY_KEY_NAME, made.key_pem)
    data_folder.replace_file(folder / data_folder.AUTHORITY_NAME, made.pem)
    return made


def still_good(folder: Path, names: Sequence[str], now: datetime) -> bool:
    """Say whether the server's certificate is from this authority, for these names, and not old.

    Parameters
    ----------
    folder : Path
        The data folder.
    names : Sequence[str]
        Names and addresses by which tablets ask.
    now : datetime
        The time (UTC).
    """
    authority = _read_certificate(folder / data_folder.AUTHORITY_NAME)
    try:
        server = _read_certificate(folder / SERVER_NAME)
        key = read_key(folder / SERVER_KEY_NAME)
        if server is None or authority is None or key is None:
            return False
        server.verify_directly_issued_by(authority)
    except (ValueError, TypeError, InvalidSignature):
        return False
    # A power cut between the two files leaves a key that is not the certificate's.
    if server.public_key() != key.public_key():
        return False
    wanted = frozenset((*_covered(authority, names), *ALWAYS))
    return names_of(server) == wanted and server.not_valid_after_utc - now >= RENEW_BEFORE


def _covered(authority: x509.Certificate, names: Iterable[str]) -> list[str]:
    return [each for each in names if covers(authority, each)]


def uncovered(folder: Path, names: Sequence[str]) -> list[str]:
    """List the names that the authority kept here may not sign for; they are left out."""
    authority = _read_certificate(folder / data_folder.AUTHORITY_NAME)
    return [] if authority is None else [each for each in names if not covers(authority, each)]


def prepare(
    folder: Path, names: Sequence[str], now: datetime, computer: Sequence[str] = ()
) -> Kept:
    """Have a certificate for these names and addresses, made anew where the one kept is not.

    Parameters
    ----------
    folder : Path
        The data folder.
    names : Sequence[str]
        Names and addresses by which tablets ask.
    now : datetime
        The time (UTC).
    computer : Sequence[str]
        Names that the computer has, although nobody asks by them now; an authority that is made
        here may sign for them later.

    Returns
    -------
    Kept
        The files that the server reads.

    Raises
    ------
    AuthorityAway
        Where it has to be made anew, and the authority's key was taken off.
    """
    kept = Kept(folder / SERVER_NAME, folder / SERVER_KEY_NAME)
    if still_good(folder, names, now):
        return kept
    authority = _authority(folder, [*names, *computer], now)
    if authority is None:
        raise AuthorityAway
    made = make_server(authority, _covered(authority.certificate, names), now)
    data_folder.replace_file(kept.key, made.key_pem)
    data_folder.replace_file(kept.certificate, made.pem)
    return kept


def told(folder: Path) -> Told | None:
    """Say what certificates there are; None where there is no authority yet."""
    authority = _read_certificate(folder / data_folder.AUTHORITY_NAME)
    if authority is None:
        return None
    server = _read_certificate(folder / SERVER_NAME)
    return Told(
        fingerprint=fingerprint(authority),
        server_until=None if server is None else server.not_valid_after_utc.astimezone(UTC),
        names=frozenset() if server is None else names_of(server),
        key_here=(folder / data_folder.AUTHORITY_KEY_NAME).is_file(),
        until=authority.not_valid_after_utc.astimezone(UTC),
    )


def take_off(folder: Path, to: Path) -> Path:
    """Move the authority's key to a folder elsewhere, such as a stick; it is gone from here after.

    Raises
    ------
    OSError
        Where it cannot be written there; then it stays here.
    FileNotFoundError
        Where it is not here.
    """
    key = folder / data_folder.AUTHORITY_KEY_NAME
    raw = key.read_bytes()
    there = to / data_folder.AUTHORITY_KEY_NAME
    if there.exists():
        raise FileExistsError(f"{there} is there already; choose another folder")
    try:
        _write_whole(there, raw)
    except OSError:
        there.unlink(missing_ok=True)
        raise
    key.unlink()
    return there


def begin_anew(folder: Path) -> None:
    """Give the authority up: the next start makes another, which every tablet has to trust."""
    # The certificate goes first: without it, a key alone is replaced.
    for name in (data_folder.AUTHORITY_NAME, data_folder.AUTHORITY_KEY_NAME):
        (folder / name).unlink(missing_ok=True)


def bring_back(folder: Path, key_file: Path) -> None:
    """Put the authority's key back.

    Raises
    ------
    ValueError
        Where it is not the key of this authority.
    """
    authority, key = _read_certificate(folder / data_folder.AUTHORITY_NAME), read_key(key_file)
    if authority is None or key is None:
        raise ValueError(f"{key_file} holds no key, or there is no authority here")
    if authority.public_key() != key.public_key():
        raise ValueError(f"{key_file} is the key of another authority")
    data_folder.replace_file(folder / data_folder.AUTHORITY_KEY_NAME, key_file.read_bytes())
