"""The key pair with which tablets seal a PIN that has to wait: only this server can open it.

A tablet gets the public half. The private half lies in the data folder, readable by its owner
only, outside the database. A key is in use for a while and then followed by another; what a tablet
had sealed by then is still opened for some time, after which the former key is deleted.
Not here: what is sealed (`jobs.actions.sealed_pin`).
"""

import base64
import hashlib
import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import Any, Final

from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import padding, rsa
from django.conf import settings

from workshop.serving import data_folder

__all__ = ["IN_USE_FOR", "OPENED_FOR", "PublicSeal", "attend", "open_sealed", "public_seal"]

IN_USE_FOR: Final = timedelta(days=90)
"""How long tablets seal to a key before another follows."""
OPENED_FOR: Final = timedelta(days=60)
"""How long what was sealed to a former key is opened; then that key is deleted."""
BITS: Final = 3072
EXPONENT: Final = 65537
ID_LETTERS: Final = 16
_OAEP: Final = padding.OAEP(
    mgf=padding.MGF1(hashes.SHA256()), algorithm=hashes.SHA256(), label=None
)
_MAKING: Final = Lock()


@dataclass(frozen=True, slots=True)
class PublicSeal:
    """The public half: its name, and SubjectPublicKeyInfo in base64."""

    id: str
    spki: str


@dataclass(frozen=True, slots=True)
class _Pair:
    private: rsa.RSAPrivateKey
    public: PublicSeal


@dataclass(frozen=True, slots=True)
class _Former:
    """A key that is not sealed to any more, and until when it opens."""

    pem: str
    until: datetime


def _public_of(private: rsa.RSAPrivateKey) -> PublicSeal:
    spki = private.public_key().public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    name = hashlib.sha256(spki).hexdigest()[:ID_LETTERS]
    return PublicSeal(name, base64.b64encode(spki).decode("ascii"))


def _raw(private: rsa.RSAPrivateKey) -> bytes:
    return private.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )


@lru_cache(maxsize=8)
def _read(raw: bytes) -> _Pair:
    private = serialization.load_pem_private_key(raw, password=None)
    if not isinstance(private, rsa.RSAPrivateKey):
        raise TypeError("this is no RSA key")
    return _Pair(private, _public_of(private))


@lru_cache(maxsize=4)
def _passing(_path: Path) -> bytes:
    """Make a key for this process alone, where there is no data folder."""
    return _raw(rsa.generate_private_key(EXPONENT, BITS))


def _path(name: str) -> Path:
    return Path(settings.COLDBUS_DATA) / name


def _here() -> _Pair:
    """Give the key in use, made at the first need."""
    path = _path(data_folder.SEAL_NAME)
    with _MAKING:
        if path.is_file():
            return _read(path.read_bytes())
        if not path.parent.is_dir():
            return _read(_passing(path))
        raw = _raw(rsa.generate_private_key(EXPONENT, BITS))
        data_folder.replace_file(path, raw)
        return _read(raw)


# ---------------------------------------------------------------- one key after another


def _noted() -> dict[str, Any]:
    """Read what is noted of the keys: since when one is in use, and the former ones."""
    path = _path(data_folder.SEALS_NAME)
    noted: dict[str, Any] = json.loads(path.read_bytes()) if path.is_file() else {}
    return noted


def _note(key_id: str, since: datetime, former: tuple[_Former, ...]) -> None:
    held = [{"pem": each.pem, "until": each.until.isoformat()} for each in former]
    noted = {"id": key_id, "since": since.isoformat(), "former": held}
    data_folder.replace_file(_path(data_folder.SEALS_NAME), json.dumps(noted).encode())


def _former(noted: dict[str, Any]) -> tuple[_Former, ...]:
    return tuple(
        _Former(each["pem"], datetime.fromisoformat(each["until"]))
        for each in noted.get("former", ())
    )


def attend(now: datetime) -> bool:
    """Let another key follow the one in use where that is old; delete former ones in time.

    Parameters
    ----------
    now : datetime
        The server's time (UTC).

    Returns
    -------
    bool
        Whether another key is in use now.
    """
    pair, noted = _here(), _noted()
    known = noted.get("id") == pair.public.id
    since = datetime.fromisoformat(noted["since"]) if known else now
    kept = tuple(each for each in _former(noted) if each.until > now)
    if now - since < IN_USE_FOR:
        if not known or len(kept) != len(_former(noted)):
            _note(pair.public.id, since, kept)
        return False
    follower = rsa.generate_private_key(EXPONENT, BITS)
    kept += (_Former(_raw(pair.private).decode("ascii"), now + OPENED_FOR),)
    # Noted first: a power cut between the two leaves the key in use, which opens as well.
    _note(_public_of(follower).id, now, kept)
    with _MAKING:
        data_folder.replace_file(_path(data_folder.SEAL_NAME), _raw(follower))
    return True


def public_seal() -> PublicSeal:
    """Give the public half of the key in use."""
    return _here().public


def _pair_of(key_id: str, now: datetime) -> _Pair | None:
    """Give the key in use, or a former one whose time is not over, by its name."""
    here = _here()
    if key_id == here.public.id:
        return here
    held = (_read(each.pem.encode()) for each in _former(_noted()) if each.until > now)
    return next((pair for pair in held if pair.public.id == key_id), None)


def open_sealed(key_id: str, box: bytes, now: datetime) -> bytes | None:
    """Open what a tablet sealed.

    Parameters
    ----------
    key_id : str
        Name of the key it was sealed to.
    box : bytes
        RSA-OAEP with SHA-256 over the content.
    now : datetime
        The server's time (UTC).

    Returns
    -------
    bytes | None
        The content; None where it was sealed to another key or to one whose time is over, or is
        no such box.
    """
    pair = _pair_of(key_id, now)
    if pair is None:
        return None
    try:
        return pair.private.decrypt(box, _OAEP)
    except ValueError:
        return None
