"""The key pair with which this workshop signs what goes into its record.

The private half (Ed25519, RFC 8032) lies in the data folder, readable by its owner only, outside
the database, so that whoever can write into the database cannot sign. The public halves of all
keys ever used stand in a list beside it; each is signed by the one before it. The list can be
exported and kept elsewhere: a verification against that copy trusts nothing on this computer.
Not here: what is signed (`jobs.actions.chain`, `workshop.backups`).
"""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import Any, Final

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from django.conf import settings

from workshop import clock
from workshop.serving import data_folder

__all__ = [
    "Signed",
    "SigningKey",
    "adopt",
    "exported",
    "follow",
    "heads_are_signed",
    "key_in_use",
    "key_name",
    "note_heads_signed",
    "read_exported",
    "sign",
    "trusted_keys",
    "unvouched",
]  # fmt: skip

VARIABLE: Final = "COLDBUS_SIGNING_KEY"
MARK: Final = "coldbus_signing_keys"
FORMAT: Final = 1
ID_LETTERS: Final = 16
_MAKING: Final = Lock()


@dataclass(frozen=True, slots=True)
class Signed:
    """A signature and the name of its key."""

    key_id: str
    signature: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class SigningKey:
    """A public key of this workshop: since when it signs, until when, and who vouches for it.

    Attributes
    ----------
    id : str
        First letters of the SHA-256 of the public key.
    public : str
        The 32 bytes of the key, as hexadecimal digits.
    since, until : str
        Times in ISO 8601; `until` is empty while it is in use.
    endorsed_by, endorsement : str
        The key before it and that key's signature; empty for the first key, and for one that was
        made because the key before it was lost.
    """

    id: str
    public: str
    since: str
    until: str = ""
    endorsed_by: str = ""
    endorsement: str = ""

    def fits(self, message: bytes, signature: bytes) -> bool:
        """Say whether the signature is this key's over the message."""
        try:
            _public(self.public).verify(signature, message)
        except InvalidSignature:
            return False
        return True

    def ended_before(self, moment: datetime) -> bool:
        """Say whether the key had ended when something was signed with it."""
        return bool(self.until) and datetime.fromisoformat(self.until) < moment


@lru_cache(maxsize=32)
def _public(hexadecimal: str) -> Ed25519PublicKey:
    return Ed25519PublicKey.from_public_bytes(bytes.fromhex(hexadecimal))


def _hexadecimal(private: Ed25519PrivateKey) -> str:
    return private.public_key().public_bytes_raw().hex()


def _id_of(public: str) -> str:
    return hashlib.sha256(bytes.fromhex(public)).hexdigest()[:ID_LETTERS]


def _raw(private: Ed25519PrivateKey) -> bytes:
    return private.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )


@lru_cache(maxsize=8)
def _read(raw: bytes) -> Ed25519PrivateKey:
    private = serialization.load_pem_private_key(raw, password=None)
    if not isinstance(private, Ed25519PrivateKey):
        raise TypeError("the signing key is no Ed25519 key")
    return private


@lru_cache(maxsize=4)
def _passing(_folder: Path) -> bytes:
    """Make a key for this process alone, where there is no data folder."""
    return _raw(Ed25519PrivateKey.generate())


def _folder() -> Path:
    return Path(settings.COLDBUS_DATA)


def _list_path() -> Path:
    return _folder() / data_folder.SIGNINGS_NAME


def _key_path() -> Path:
    given = str(settings.COLDBUS_SIGNING_KEY)
    return Path(given) if given else _folder() / data_folder.SIGNING_NAME


@lru_cache(maxsize=8)
def _content(path: Path, _written_ns: int, _node: int) -> bytes:
    return path.read_bytes()


def _bytes_of(path: Path) -> bytes:
    """Read a file, from memory where it was not written since."""
    found = path.stat()
    return _content(path, found.st_mtime_ns, found.st_ino)


def _private() -> Ed25519PrivateKey:
    """Read the private key in use; make it where there is none."""
    path = _key_path()
    if not path.is_file():
        data_folder.make_file_once(path, _raw(Ed25519PrivateKey.generate()))
    return _read(_bytes_of(path))


def _here() -> Ed25519PrivateKey:
    """Give the private key in use, made and listed at the first need."""
    if not _folder().is_dir():
        return _read(_passing(_folder()))
    private = _private()
    if not _list_path().is_file():
        adopt(clock.now())
    return private


# ---------------------------------------------------------------- the list of keys


def _noted() -> dict[str, Any]:
    path = _list_path()
    return json.loads(_bytes_of(path)) if path.is_file() else {MARK: FORMAT, "keys": []}


@lru_cache(maxsize=4)
def _listed_in(raw: bytes) -> Mapping[str, SigningKey]:
    return {key.id: key for key in _keys_in(json.loads(raw))}


def _write(keys: Iterable[SigningKey], *, heads_signed: bool) -> None:
    content = {MARK: FORMAT, "heads_signed": heads_signed, "keys": [asdict(key) for key in keys]}
    data_folder.replace_file(_list_path(), json.dumps(content, indent=1).encode())


def _keys_in(content: Mapping[str, Any]) -> tuple[SigningKey, ...]:
    keys = tuple(
        SigningKey(**{name: str(value) for name, value in row.items()}) for row in content["keys"]
    )
    for key in keys:
        if key.id != _id_of(key.public):
            raise ValueError(f"the key {key.id} is not the one its name stands for")
    return keys


def _endorsed_words(public: str, since: str) -> bytes:
    return f"coldbus signing key\n{public}\n{since}".encode("ascii")


def _listed(private: Ed25519PrivateKey, now: datetime, by: Ed25519PrivateKey | None) -> None:
    """Add a key to the list and end the one before it."""
    noted, public, since = _noted(), _hexadecimal(private), now.isoformat()
    earlier = [
        key if key.until else SigningKey(**{**asdict(key), "until": since})
        for key in _keys_in(noted)
    ]
    added = SigningKey(id=_id_of(public), public=public, since=since)
    if by is not None:
        signature = by.sign(_endorsed_words(public, since)).hex()
        vouched = {"endorsed_by": _id_of(_hexadecimal(by)), "endorsement": signature}
        added = SigningKey(**{**asdict(added), **vouched})
    _write([*earlier, added], heads_signed=bool(noted.get("heads_signed")))


def adopt(now: datetime) -> bool:
    """List the key in use where the list does not know it: the first, or one after a loss.

    Parameters
    ----------
    now : datetime
        The server's time (UTC).

    Returns
    -------
    bool
        Whether it was added; no key vouches for it.
    """
    if not _folder().is_dir():
        return False
    private = _private()
    with _MAKING:
        if any(key.public == _hexadecimal(private) for key in _keys_in(_noted())):
            return False
        _listed(private, now, None)
    return True


def follow(now: datetime) -> SigningKey:
    """Let another key follow the one in use, which vouches for it and signs no more.

    Raises
    ------
    ValueError
        Where the key is given from outside: its place is not this program's to write.
    """
    if settings.COLDBUS_SIGNING_KEY:
        raise ValueError(f"the key is given by {VARIABLE}; put another file there")
    former = _here()
    adopt(now)
    follower = Ed25519PrivateKey.generate()
    with _MAKING:
        # The key first: after a power cut between the two, `adopt` lists it without a word of the
        # former one. The other way round, a key that the list has ended would go on signing.
        data_folder.replace_file(_key_path(), _raw(follower))
        _listed(follower, now, former)
    return key_in_use()


def trusted_keys() -> Mapping[str, SigningKey]:
    """Give the keys of this workshop by name: the list, or the passing key where none is."""
    if not _folder().is_dir():
        public = _hexadecimal(_here())
        return {_id_of(public): SigningKey(id=_id_of(public), public=public, since="")}
    _here()
    return _listed_in(_bytes_of(_list_path()))


def key_in_use() -> SigningKey:
    """Give the public half of the key that signs now."""
    public = _hexadecimal(_here())
    known = trusted_keys().get(_id_of(public))
    return known or SigningKey(id=_id_of(public), public=public, since="")


def sign(message: bytes) -> Signed:
    """Sign a message with the key in use.

    Parameters
    ----------
    message : bytes
        What is signed; it begins with words that say what it is, so that a signature over one
        kind of thing never passes for another.

    Returns
    -------
    Signed
        Name of the key and the 64 bytes of the signature.
    """
    private = _here()
    return Signed(_id_of(_hexadecimal(private)), private.sign(message))


def key_name() -> str:
    """Give the name of the key that signs now, without reading the list."""
    return _id_of(_hexadecimal(_here()))


def heads_are_signed() -> bool:
    """Say whether the ends of all chains were signed once, so that an unsigned one is a fault."""
    return bool(_noted().get("heads_signed"))


def note_heads_signed() -> None:
    """Note that the ends of all chains are signed from now on."""
    if _folder().is_dir():
        _here()
        _write(_keys_in(_noted()), heads_signed=True)


# ---------------------------------------------------------------- the list elsewhere


def exported() -> bytes:
    """Give the public list as a file that is kept elsewhere; it holds no secret."""
    rows = [asdict(key) for key in trusted_keys().values()]
    return json.dumps({MARK: FORMAT, "keys": rows}, indent=1).encode() + b"\n"


def read_exported(raw: bytes) -> Mapping[str, SigningKey]:
    """Read such a file.

    Raises
    ------
    ValueError
        Where it is no list of signing keys.
    """
    try:
        content = json.loads(raw)
        if content[MARK] > FORMAT:
            raise ValueError("the list of keys is of a newer format")
        return {key.id: key for key in _keys_in(content)}
    except (KeyError, TypeError, AttributeError) as reason:
        raise ValueError(f"this is no list of signing keys ({reason!r})") from None


def unvouched(keys: Mapping[str, SigningKey]) -> tuple[SigningKey, ...]:
    """Name the keys, after the first, for which no key before them vouches."""
    in_order = list(keys.values())
    return tuple(key for key in in_order[1:] if not _is_vouched(key, keys))


def _is_vouched(key: SigningKey, keys: Mapping[str, SigningKey]) -> bool:
    former = keys.get(key.endorsed_by)
    words = _endorsed_words(key.public, key.since)
    return former is not None and former.fits(words, bytes.fromhex(key.endorsement))
