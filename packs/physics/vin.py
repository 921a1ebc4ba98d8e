"""Vehicle identification numbers: form, check digit and model year.

Here: what the seventeen characters say on their own. Not here: any list of makers; nothing is
looked up.
"""

import string
from dataclasses import dataclass
from typing import Literal

from packs.physics.instrument import Message
from packs.words import told

LENGTH = 17
LONGEST_FRAME_NUMBER = 13
LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"
ALPHABET = frozenset(string.digits + LETTERS)
LETTER_VALUES = dict(zip(LETTERS, [*range(1, 9), *range(1, 6), 7, 9, *range(2, 10)], strict=True))
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
CHECK_AT, YEAR_AT, PERIOD_AT = 8, 9, 6
YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"
FIRST_YEAR, PERIOD_YEARS = 1980, 30
NORTH_AMERICA = frozenset("12345")

CheckDigit = Literal["matches", "differs", "not applicable"]


@dataclass(frozen=True, slots=True, kw_only=True)
class VinResult:
    """Whether the form holds, what the check digit says, and the model year if it is certain."""

    valid: bool
    check_digit: CheckDigit
    model_year: int | None
    warnings: tuple[Message, ...]


def vin(text: str) -> VinResult:
    """Check a vehicle identification number.

    Parameters
    ----------
    text : str
        As typed; case, spaces and hyphens do not matter, [-]

    Returns
    -------
    result : VinResult
        Form, check digit and model year, [-]

    Notes
    -----
    Form: seventeen digits and capital letters without I, O and Q (ISO 3779). Check digit: the
    weighted sum of 49 CFR 565.15 modulo 11, ten written X. It is binding for numbers whose first
    character places the maker in North America; elsewhere position 9 is free, so a mismatch is a
    warning, and a letter other than X there means that it is not used. Model year: position 10
    repeats every thirty years; for North American passenger cars and light trucks a digit in
    position 7 means 1980 to 2009 and a letter 2010 to 2039 (49 CFR 565.15). Elsewhere nothing
    resolves it, so the year is None. Sources: ISO 3779 and 49 CFR 565.15, from memory of both.

    Examples
    --------
    >>> vin("1J9RP1A36A1644345").check_digit
    'matches'
    >>> vin("1G4AH59H45G118341").model_year
    2005
    >>> vin("AB12-004521").warnings[0].code
    'frame_number'
    """
    number = _normalised(text)
    faults = _form_faults(number)
    if faults:
        return VinResult(
            valid=False, check_digit="not applicable", model_year=None, warnings=tuple(faults)
        )
    american = _is_north_american(number)
    check = _check_digit(number, american=american)
    model_year, year_warnings = _model_year(number, american=american)
    return VinResult(
        valid=not (american and check == "differs"),
        check_digit=check,
        model_year=model_year,
        warnings=(*_check_warnings(check, american=american), *year_warnings),
    )


def _normalised(text: str) -> str:
    """Drop spaces and hyphens; raise the plain letters, leave any other character visible."""
    kept = (char for char in text if not (char.isspace() or char == "-"))
    return "".join(char.upper() if char in string.ascii_lowercase else char for char in kept)


def _form_faults(number: str) -> list[Message]:
    """Say what about length and characters is wrong."""
    strange = sorted(set(number) - ALPHABET)
    faults = []
    if len(number) != LENGTH:
        if 0 < len(number) <= LONGEST_FRAME_NUMBER and not strange and number[-5:].isdigit():
            text = "This looks like a short frame number of an imported vehicle: record it as such."
            faults.append(Message("frame_number", text))
        text = told(
            "A vehicle identification number has 17 characters, this one {count}.",
            count=len(number),
        )
        faults.append(Message("length", text))
    if strange:
        text = told(
            "Not allowed here: {strange}. I, O and Q are usually 1 and 0.",
            strange=" ".join(strange),
        )
        faults.append(Message("characters", text))
    return faults


def _is_north_american(number: str) -> bool:
    """Tell whether the first characters place the maker in North America."""
    if number[0] == "7":
        # The seventh block is shared with Oceania; the part from F on is North America's.
        return number[1] == "0" or number[1] >= "F"
    return number[0] in NORTH_AMERICA


def _check_digit(number: str, *, american: bool) -> CheckDigit:
    """Compare position 9 with the weighted sum."""
    written = number[CHECK_AT]
    if not american and written not in string.digits + "X":
        return "not applicable"
    values = (LETTER_VALUES.get(char) or int(char) for char in number)
    rest = sum(w * value for w, value in zip(WEIGHTS, values, strict=True)) % 11
    return "matches" if written == "0123456789X"[rest] else "differs"


def _check_warnings(check: CheckDigit, *, american: bool) -> tuple[Message, ...]:
    """Say what a mismatch means where the number comes from."""
    if check != "differs":
        return ()
    if american:
        text = "The check digit in position 9 does not fit: a character is mistyped or swapped."
    else:
        text = "Position 9 is not the check digit; outside North America it need not be. Compare."
    return (Message("check_digit", text),)


def _model_year(number: str, *, american: bool) -> tuple[int | None, tuple[Message, ...]]:
    """Read position 10, with position 7 where that rule applies."""
    code = number[YEAR_AT]
    if code not in YEAR_CODES:
        text = told("Position 10 ({code}) is not the code of a model year.", code=code)
        return None, (Message("model_year", text),)
    early = FIRST_YEAR + YEAR_CODES.index(code)
    if american:
        return early if number[PERIOD_AT] in string.digits else early + PERIOD_YEARS, ()
    text = told(
        "Position 10 would mean {early} or {late}, if this maker uses it for the "
        "model year: take the year from the papers.",
        early=early,
        late=early + PERIOD_YEARS,
    )
    return None, (Message("model_year", text),)
