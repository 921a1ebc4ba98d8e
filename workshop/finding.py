"""What somebody typed into a search box: read as a plate, a VIN, a telephone number or a name.

Pure: no Django, no stored rows. How rows are found by it is said in ``workshop.queries``.
"""

import re
from typing import Final, Literal

SEPARATORS: Final = " -./·"
"""What plates are written with or without."""

PHONE_MARKS: Final = " -./()+"
"""What telephone numbers are written with or without."""

SAME_NUMBER_DIGITS: Final = 7
"""Last digits by which two spellings of a telephone number count as the same."""

LEAST_PHONE_DIGITS: Final = 3
VIN_LENGTH: Final = 17
LEAST_VIN: Final = 11
LONGEST_PLATE: Final = 12
LONGEST_LETTERS_OF_PLATE: Final = 4
LEAST_NEW_PHONE: Final = 6

Meaning = Literal["phone", "vin", "plate", "email", "name"]


def close_plate(text: str) -> str:
    """Write a plate without what it is written with or without.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    str
        Capitals and digits run together.

    Examples
    --------
    >>> close_plate("pf 41-van")
    'PF41VAN'
    """
    kept = "".join(text.split()).upper()
    return "".join(each for each in kept if each not in SEPARATORS)


def phone_core(text: str) -> str:
    """Give the digits of a telephone number from the first that every spelling has.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    str
        Its digits without leading zeros; empty where there are too few to look for, or where
        something else than a number was typed.

    Examples
    --------
    >>> phone_core("0131 496 0021"), phone_core("+44 (0)131 496-0021"), phone_core("PF 41")
    ('1314960021', '441314960021', '')
    """
    plain = text.replace("(0)", "")
    if any(not (each.isascii() and each.isdigit()) and each not in PHONE_MARKS for each in plain):
        return ""
    core = "".join(each for each in plain if each.isdigit()).lstrip("0")
    return core if len(core) >= LEAST_PHONE_DIGITS else ""


def phone_ends(text: str) -> tuple[str, ...]:
    """Give the runs of digits of which one stands in every spelling of a telephone number.

    Examples
    --------
    >>> phone_ends("+44 131 496 0021")
    ('441314960021', '4960021')
    """
    core = phone_core(text)
    if not core:
        return ()
    return (core, core[-SAME_NUMBER_DIGITS:]) if len(core) > SAME_NUMBER_DIGITS else (core,)


def dialled(text: str) -> str:
    """Write a telephone number as a device dials it; empty where it is none.

    Examples
    --------
    >>> dialled("+44 (0)131 496-0021"), dialled("0131 496 0021"), dialled("ask for Jo")
    ('+441314960021', '01314960021', '')
    """
    plain = text.replace("(0)", "").strip()
    if not phone_core(text):
        return ""
    return ("+" if plain.startswith("+") else "") + "".join(
        each for each in plain if each.isdigit()
    )


def meaning_of(text: str) -> Meaning:
    """Say which field of a new customer or vehicle a search text belongs into.

    Parameters
    ----------
    text : str
        As typed into the search box.

    Returns
    -------
    {"phone", "vin", "plate", "email", "name"}
        What it looks like most.

    Examples
    --------
    >>> meaning_of("PF 41 VAN"), meaning_of("0131 496 0021"), meaning_of("Brightwater Parcels")
    ('plate', 'phone', 'name')
    """
    close = close_plate(text)
    if "@" in text:
        return "email"
    if len(phone_core(text)) >= LEAST_NEW_PHONE:
        return "phone"
    if not any(each.isdigit() for each in close) or not close.isalnum():
        return "name"
    if re.fullmatch(rf"[A-Z0-9]{{{LEAST_VIN},{VIN_LENGTH}}}", close):
        return "vin"
    longest = max((len(run) for run in re.findall(r"[^\W\d_]+", close)), default=0)
    short = len(close) <= LONGEST_PLATE and longest <= LONGEST_LETTERS_OF_PLATE
    return "plate" if short else "name"
