"""One digest of many rows, whatever order they are read in."""

import hashlib
import json
from collections.abc import Iterable
from typing import Any

__all__ = ["rows_digest"]


def rows_digest(rows: Iterable[Any]) -> tuple[int, str]:
    """Give the number of rows and one SHA-256 over the sorted digests of their contents.

    Parameters
    ----------
    rows : Iterable
        What each row says, as plain values that JSON can hold.

    Returns
    -------
    tuple[int, str]
        Number of rows, and the digest in hexadecimal digits.

    Examples
    --------
    >>> rows_digest([{"a": 1}, {"a": 2}]) == rows_digest([{"a": 2}, {"a": 1}])
    True
    >>> rows_digest([{"a": 1}]) == rows_digest([{"a": 2}])
    False
    """
    digests = sorted(
        hashlib.sha256(json.dumps(row, sort_keys=True).encode()).hexdigest() for row in rows
    )
    return len(digests), hashlib.sha256("\n".join(digests).encode("ascii")).hexdigest()
