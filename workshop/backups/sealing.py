"""The envelope of a backup: encrypted in pieces, so that nothing large has to fit into memory.

AES-256-GCM (NIST SP 800-38D) over pieces of 64 KiB. Each file has a key of its own, derived by
HKDF-SHA-256 (RFC 5869) from the shop's key and a random salt; the nonce of a piece is its number
and whether it is the last, so pieces that were cut off, swapped or added are found. The head
names the shop's key by the beginning of its digest, so that a wrong key is told from damage.
"""

import hashlib
import io
import os
from typing import IO, Final

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from typing_extensions import override

__all__ = ["KEY_BYTES", "SealedReader", "SealedWriter", "WrongKey", "is_sealed", "key_id"]

MARK: Final = b"coldbus sealed 1\n"
KEY_BYTES: Final = 32
ID_BYTES: Final = 8
SALT_BYTES: Final = 32
TAG_BYTES: Final = 16
PIECE_BYTES: Final = 64 * 1024
HEAD_BYTES: Final = len(MARK) + ID_BYTES + SALT_BYTES
_SEALED_BYTES: Final = PIECE_BYTES + TAG_BYTES


class WrongKey(ValueError):
    """The file was sealed with another key; the argument is that key's name."""


def key_id(key: bytes) -> str:
    """Give the name of a key: the beginning of its digest."""
    return hashlib.sha256(b"coldbus backup key" + key).digest()[:ID_BYTES].hex()


def is_sealed(file: IO[bytes]) -> bool:
    """Say whether an open file begins like a sealed one; the position is put back."""
    begins = file.read(len(MARK))
    file.seek(0)
    return begins == MARK


def _cipher(key: bytes, salt: bytes) -> AESGCM:
    derived = HKDF(hashes.SHA256(), KEY_BYTES, salt, b"coldbus backup").derive(key)
    return AESGCM(derived)


def _nonce(number: int, *, last: bool) -> bytes:
    return number.to_bytes(11, "big") + bytes([last])


class SealedWriter(io.RawIOBase):
    """Takes what is written and seals it into another file, piece by piece."""

    def __init__(self, file: IO[bytes], key: bytes) -> None:
        salt = os.urandom(SALT_BYTES)
        self._file, self._cipher = file, _cipher(key, salt)
        self._head = MARK + bytes.fromhex(key_id(key)) + salt
        self._rest, self._number, self._taken = bytearray(), 0, 0
        file.write(self._head)

    @override
    def writable(self) -> bool:
        """Say that it takes bytes."""
        return True

    @override
    def tell(self) -> int:
        """Give how many bytes were taken."""
        return self._taken

    @override
    def write(self, piece: bytes | bytearray | memoryview, /) -> int:  # type: ignore[override]
        """Take bytes; whole pieces go on at once."""
        self._rest += piece
        self._taken += len(piece)
        # The last piece is kept back until it is known to be the last.
        while len(self._rest) > PIECE_BYTES:
            self._put(bytes(self._rest[:PIECE_BYTES]), last=False)
            del self._rest[:PIECE_BYTES]
        return len(piece)

    def finish(self) -> None:
        """Seal what is left as the last piece."""
        self._put(bytes(self._rest), last=True)
        self._rest.clear()

    def _put(self, piece: bytes, *, last: bool) -> None:
        nonce = _nonce(self._number, last=last)
        self._file.write(self._cipher.encrypt(nonce, piece, self._head))
        self._number += 1


class SealedReader(io.RawIOBase):
    """Reads a sealed file at any place as if it were not sealed.

    Raises
    ------
    WrongKey
        Where it was sealed with another key.
    ValueError
        Where its head or its end is missing, and on reading at each piece that was changed.
    """

    def __init__(self, file: IO[bytes], key: bytes) -> None:
        self._file = file
        self._head = file.read(HEAD_BYTES)
        if len(self._head) < HEAD_BYTES:
            raise ValueError("its head is cut off")
        name = self._head[len(MARK) : len(MARK) + ID_BYTES].hex()
        if name != key_id(key):
            raise WrongKey(name)
        self._cipher = _cipher(key, self._head[-SALT_BYTES:])
        sealed = file.seek(0, os.SEEK_END) - HEAD_BYTES
        self._last = max(0, (sealed - 1) // _SEALED_BYTES)
        self._size = sealed - (self._last + 1) * TAG_BYTES
        self._place, self._open = 0, (-1, b"")
        if self._size < 0:
            raise ValueError("its end is missing")
        self._piece(self._last)

    @override
    def readable(self) -> bool:
        """Say that it gives bytes."""
        return True

    @override
    def seekable(self) -> bool:
        """Say that any place can be read."""
        return True

    @override
    def tell(self) -> int:
        """Give the place that is read next."""
        return self._place

    @override
    def seek(self, offset: int, whence: int = os.SEEK_SET, /) -> int:
        """Go to a place."""
        start = {os.SEEK_SET: 0, os.SEEK_CUR: self._place, os.SEEK_END: self._size}[whence]
        self._place = max(0, start + offset)
        return self._place

    @override
    def readinto(self, buffer: bytearray | memoryview, /) -> int:  # type: ignore[override]
        """Read as much of one piece as fits."""
        if self._place >= self._size:
            return 0
        number, within = divmod(self._place, PIECE_BYTES)
        found = self._piece(number)[within : within + len(buffer)]
        buffer[: len(found)] = found
        self._place += len(found)
        return len(found)

    def _piece(self, number: int) -> bytes:
        if self._open[0] == number:
            return self._open[1]
        self._file.seek(HEAD_BYTES + number * _SEALED_BYTES)
        sealed = self._file.read(_SEALED_BYTES)
        nonce = _nonce(number, last=number == self._last)
        try:
            plain = self._cipher.decrypt(nonce, sealed, self._head)
        except InvalidTag:
            raise ValueError("it was changed, or its end is missing") from None
        self._open = (number, plain)
        return plain
