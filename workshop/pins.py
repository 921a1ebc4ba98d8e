"""PINs: which are refused, how one is kept, and how long wrong ones lock.

No Django and no stored people here. A PIN has few digits, so its hash alone could be tried out
in seconds; the pepper, which is kept outside the database, is what makes a stolen copy useless.
"""

import hashlib
import hmac
from datetime import timedelta
from functools import cache
from itertools import pairwise
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

SHORTEST: Final = 4
LONGEST: Final = 8
TRIES: Final = 5
"""Wrong tries before the first lock."""

LOCKS: Final = (timedelta(minutes=1), timedelta(minutes=5), timedelta(minutes=15))
"""Lock after the fifth wrong try, after the sixth, and after each further one."""

_HASHER: Final = PasswordHasher(time_cost=2, memory_cost=19_456, parallelism=1)


def fault_of(pin: str) -> str | None:
    """Say why a new PIN is refused.

    Parameters
    ----------
    pin : str
        As typed.

    Returns
    -------
    str or None
        ``"pin_length"``, ``"pin_trivial"``, or None where the PIN may be used.

    Examples
    --------
    >>> [fault_of(pin) for pin in ("12", "3456", "4747", "9182")]
    ['pin_length', 'pin_trivial', 'pin_trivial', None]
    """
    if not (pin.isascii() and pin.isdigit() and SHORTEST <= len(pin) <= LONGEST):
        return "pin_length"
    steps = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)}
    # A word that is found inside itself doubled, off its ends, repeats a shorter one.
    repeats = pin in (pin + pin)[1:-1]
    return "pin_trivial" if repeats or steps in ({1}, {9}) else None


def _peppered(pin: str, pepper: str) -> str:
    """Mix the pepper in, so that the database alone is not enough to try PINs."""
    return hmac.new(pepper.encode(), pin.encode(errors="replace"), hashlib.sha256).hexdigest()


def hash_pin(pin: str, pepper: str) -> str:
    """Give the text to store for a PIN (argon2id over the peppered PIN)."""
    return _HASHER.hash(_peppered(pin, pepper))


@cache
def _decoy() -> str:
    """Give a hash that no PIN fits, to spend the same work where there is none."""
    return _HASHER.hash("no pin")


def matches(stored: str, pin: str, pepper: str) -> bool:
    """Say whether a PIN fits what is stored; equal work where nothing is stored."""
    try:
        return _HASHER.verify(stored or _decoy(), _peppered(pin, pepper))
    except (VerificationError, InvalidHashError):
        return False


def lock_after(failures: int) -> timedelta | None:
    """Give the lock that a number of wrong tries in a row brings.

    Examples
    --------
    >>> [str(lock_after(n)) for n in (4, 5, 6, 7, 30)]
    ['None', '0:01:00', '0:05:00', '0:15:00', '0:15:00']
    """
    if failures < TRIES:
        return None
    return LOCKS[min(failures - TRIES, len(LOCKS) - 1)]
