"""Units that a header or the row under it names.

Here: words to a unit. Not here: what is done where the numbers say otherwise (cells.py, times.py).
"""

import re

WORDS = {
    "v": "V", "volt": "V", "volts": "V", "mv": "mV", "millivolt": "mV", "millivolts": "mV",
    "uv": "uV", "µv": "uV", "μv": "uV",
    "a": "A", "amp": "A", "amps": "A", "ampere": "A", "ma": "mA", "milliampere": "mA", "ka": "kA",
    "c": "C", "°c": "C", "degc": "C", "celsius": "C", "k": "K", "kelvin": "K",
    "f": "F", "°f": "F", "degf": "F", "fahrenheit": "F",
    "s": "s", "sec": "s", "second": "s", "seconds": "s", "ms": "ms", "msec": "ms",
    "millis": "ms", "milliseconds": "ms", "us": "us", "µs": "us", "μs": "us", "ns": "ns",
    "min": "min", "minute": "min", "minutes": "min", "h": "h", "hr": "h", "hour": "h",
    "hours": "h", "d": "d", "day": "d", "days": "d",
}  # fmt: skip
BRACKETED = re.compile(r"[\[(]\s*([^\])]+?)\s*[\])]")
LAST_WORD = re.compile(r"[\s_./-]([°µμA-Za-z]+)\s*$")


def unit_of(name: str, under: str = "") -> str:
    """Return the unit that stands in a name or under it.

    Parameters
    ----------
    name : str
        Of a column.
    under : str
        What the row of units says.

    Returns
    -------
    unit : str
        One of V, mV, uV, A, mA, kA, C, K, F, s, ms, us, ns, min, h, d; empty where none is named.

    Examples
    --------
    >>> unit_of("cell 1 mV"), unit_of("T [°C]"), unit_of("c01_v"), unit_of("I"), unit_of("I", "[A]")
    ('mV', 'C', 'V', '', 'A')
    """
    for text in (under.strip(" []()"), *reversed(BRACKETED.findall(name))):
        if text.strip().casefold() in WORDS:
            return WORDS[text.strip().casefold()]
    last = LAST_WORD.search(name)
    return WORDS.get(last[1].casefold(), "") if last else ""
