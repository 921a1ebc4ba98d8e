"""The key pair with which tablets seal a PIN that has to wait: only this server can open it.

A tablet gets the public half. The private half lies in the data folder, readable by its owner
only, outside the database. Not here: what is sealed (`jobs.actions.sealed_pin`).
"""

import base64
import hashlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import Final

from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import padding, rsa
from django.conf import settings

from workshop.serving import data_folder

__all__ = ["PublicSeal", "open_sealed", "public_seal"]

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


def _public_of(private: rsa.RSAPrivateKey) -> PublicSeal:
    spki = private.public_key().public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    name = hashlib.sha256(spki).hexdigest()[:ID_LETTERS]
    return PublicSeal(name, base64.b64encode(spki).decode("ascii"))


def _made(path: Path) -> rsa.RSAPrivateKey:
    """Make a pair; kept where there is a data folder, else for this process alone."""
    private = rsa.generate_private_key(EXPONENT, BITS)
    if path.parent.is_dir():
        raw = private.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
        with data_folder.new_file(path) as file:
            file.write(raw)
    return private


@lru_cache(maxsize=4)
def _pair(path: Path) -> _Pair:
    if path.is_file():
        read = serialization.load_pem_private_key(path.read_bytes(), password=None)
        if not isinstance(read, rsa.RSAPrivateKey):
            raise TypeError(f"{path} holds no RSA key")
        return _Pair(read, _public_of(read))
    private = _made(path)
    return _Pair(private, _public_of(private))


def _here() -> _Pair:
    with _MAKING:
        return _pair(Path(settings.COLDBUS_DATA) / data_folder.SEAL_NAME)


def public_seal() -> PublicSeal:
    """Give the public half of the key in use."""
    return _here().public


def open_sealed(key_id: str, box: bytes) -> bytes | None:
    """Open what a tablet sealed.

    Parameters
    ----------
    key_id : str
        Name of the key it was sealed to.
    box : bytes
        RSA-OAEP with SHA-256 over the content.

    Returns
    -------
    bytes | None
        The content; None where it was sealed to another key, or is no such box.
    """
    pair = _here()
    if key_id != pair.public.id:
        return None
    try:
        return pair.private.decrypt(box, _OAEP)
    except ValueError:
        return None
