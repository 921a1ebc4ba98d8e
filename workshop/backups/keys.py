"""The key of the shop's backups, and how it is written on paper.

It lies in the data folder and in no backup: a stick that is found tells nothing. Whoever restores
on another computer types it from the sheet that was printed before.
"""

import base64
import hashlib
import os
from pathlib import Path
from typing import Final

from workshop.backups.sealing import KEY_BYTES
from workshop.serving import data_folder

__all__ = ["KEY_NAME", "key_of", "known_key", "read_words", "take_along", "words_of"]

KEY_NAME: Final = "backup_key"
GROUP: Final = 4
CHECK_BYTES: Final = 3


def key_of(data: Path) -> bytes:
    """Give the key of a data folder, made at the first need."""
    path = data / KEY_NAME
    if not path.is_file():
        data_folder.make_file_once(path, os.urandom(KEY_BYTES).hex().encode("ascii") + b"\n")
    return bytes.fromhex(path.read_text(encoding="ascii").strip())


def known_key(data: Path) -> bytes | None:
    """Give the key of a data folder; None where it has none."""
    return key_of(data) if (data / KEY_NAME).is_file() else None


def take_along(key: bytes, data: Path) -> None:
    """Let a restored data folder go on with the key of its backup."""
    data_folder.replace_file(data / KEY_NAME, key.hex().encode("ascii") + b"\n")


def _check(key: bytes) -> bytes:
    return hashlib.sha256(b"written key" + key).digest()[:CHECK_BYTES]


def words_of(key: bytes) -> str:
    """Write a key in groups of four letters and digits, the last of which tell a slip.

    Examples
    --------
    >>> read_words(words_of(bytes(range(32)))) == bytes(range(32))
    True
    """
    letters = base64.b32encode(key + _check(key)).decode("ascii")
    return "-".join(letters[at : at + GROUP] for at in range(0, len(letters), GROUP))


def read_words(typed: str) -> bytes:
    """Read a key as it was typed from the sheet: spaces, dashes, case, 0 and 1 do not matter.

    Raises
    ------
    ValueError
        Where a letter is wrong or missing.
    """
    letters = "".join(each for each in typed.upper() if each.isalnum())
    # The alphabet has neither 0 nor 1, which paper makes of O and I.
    letters = letters.replace("0", "O").replace("1", "I")
    try:
        raw = base64.b32decode(letters)
    except ValueError:
        raise ValueError("a letter is wrong or missing") from None
    key, check = raw[:KEY_BYTES], raw[KEY_BYTES:]
    if len(key) != KEY_BYTES or check != _check(key):
        raise ValueError("a letter is wrong or missing")
    return key
