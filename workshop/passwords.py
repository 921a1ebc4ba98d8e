"""Passwords of the office: which are refused. They are kept as PINs are (`workshop.pins`)."""

from collections.abc import Iterable
from functools import cache
from typing import Final

from django.contrib.auth.password_validation import CommonPasswordValidator

__all__ = ["LONGEST", "SHORTEST", "fault_of"]

SHORTEST: Final = 10
LONGEST: Final = 128
NAME_LETTERS: Final = 4
"""Parts of a name shorter than this may stand in a password."""


@cache
def _common() -> frozenset[str]:
    return frozenset(CommonPasswordValidator().passwords)


def fault_of(password: str, names: Iterable[str] = ()) -> str | None:
    """Say why a new password is refused.

    Parameters
    ----------
    password : str
        As typed.
    names : Iterable of str
        Names that are guessed first: of the person and of the workshop.

    Returns
    -------
    str or None
        ``"password_length"``, ``"password_common"``, ``"password_name"``, or None.

    Notes
    -----
    Among the 20 000 most frequent ones, by Django's list; digits alone are too few.

    Examples
    --------
    >>> [fault_of(each, ["Wren Example"]) for each in ("short", "1234567890", "7391846205")]
    ['password_length', 'password_common', 'password_common']
    >>> [fault_of(each, ["Wren Example"]) for each in ("my-example-x", "lid torque 9 wet")]
    ['password_name', None]
    """
    if not SHORTEST <= len(password) <= LONGEST:
        return "password_length"
    plain = password.casefold().strip()
    if plain in _common() or plain.isdigit() or len(set(plain)) < NAME_LETTERS:
        return "password_common"
    parts = {part.casefold() for name in names for part in name.split()}
    named = any(part in plain for part in parts if len(part) >= NAME_LETTERS)
    return "password_name" if named else None
