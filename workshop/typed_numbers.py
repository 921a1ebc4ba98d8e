"""Numbers as people type them into a register: one separator, always decimal, no grouping.

The prefixes k and M are taken only where the unit is ohm. Nothing is guessed. Readings of a job
have their own parser, ``jobs.core.parsing``, which also keeps what was typed.
"""

import re
from typing import Final

_NUMBER: Final = re.compile(r"([0-9]{1,15})(?:[.,]([0-9]{1,12}))?\s*([kM]?)")
_PREFIX: Final = {"": 1.0, "k": 1e3, "M": 1e6}


def read_number(typed: str, *, is_ohm: bool = False) -> float:
    """Read a number that is not negative.

    Parameters
    ----------
    typed : str
        As typed; a comma or a point parts the decimals.
    is_ohm : bool
        Whether k and M may follow.

    Returns
    -------
    float
        The number [unit of the field].

    Raises
    ------
    ValueError
        Where it cannot be read without guessing.

    Examples
    --------
    >>> read_number("0,5"), read_number("185 k", is_ohm=True)
    (0.5, 185000.0)
    >>> read_number("1.000,5")
    Traceback (most recent call last):
    ValueError: 1.000,5
    """
    match = _NUMBER.fullmatch(typed.strip())
    if match is None or (match[3] and not is_ohm):
        raise ValueError(typed)
    return float(f"{match[1]}.{match[2] or 0}") * _PREFIX[match[3]]
