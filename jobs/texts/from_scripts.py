"""Texts of the scripts: the literal first argument of each call of ``say``."""

import json
import re
from collections.abc import Iterator

__all__ = ["script_texts"]

_SAID = re.compile(r"""\bsay\(\s*("(?:[^"\\]|\\.)*")""")


def script_texts(source: str) -> Iterator[tuple[str, str]]:
    """Give the texts of a script, each with an empty plural.

    Examples
    --------
    >>> list(script_texts('say("{n} wait", {n: 2}); essay("x")'))
    [('{n} wait', '')]
    """
    for found in _SAID.findall(source):
        yield str(json.loads(found)), ""
