"""A vehicle identification number, step by step.

Here: the steps. Not here: the calculation (physics/vin.py).
"""

import string
from collections.abc import Mapping

from packs.explanation import Line, table_text
from packs.explanations.readings import against
from packs.physics.vin import (
    ALPHABET,
    CHECK_AT,
    FIRST_YEAR,
    LENGTH,
    LETTER_VALUES,
    PERIOD_AT,
    PERIOD_YEARS,
    WEIGHTS,
    YEAR_AT,
    YEAR_CODES,
    VinResult,
)
from packs.words import told

MODULUS = 11


def explained(fields: Mapping[str, str], result: VinResult) -> tuple[Line, ...]:
    """Return the steps from the number as typed to the verdict.

    Parameters
    ----------
    fields : Mapping[str, str]
        With the number as ``text``.
    result : VinResult
        What came of it.

    Returns
    -------
    lines : tuple[Line, ...]
        In the order in which a person would work.
    """
    text = fields["text"]
    number = "".join(char for char in text if not (char.isspace() or char == "-"))
    number = "".join(char.upper() if char in string.ascii_lowercase else char for char in number)
    strange = sorted(set(number) - ALPHABET)
    lines = [
        Line(what="Form after ISO 3779; check digit and model year after 49 CFR 565.15"),
        Line(what="As compared: capitals, without spaces and hyphens", value=number or "nothing"),
        Line(
            what="Length and characters: 17, digits and capitals without I, O and Q",
            numbers=told(
                "{count} characters, {strange} not allowed",
                count=len(number),
                strange=" ".join(strange) or told("none"),
            ),
            value="fits" if len(number) == LENGTH and not strange else "does not fit",
        ),
    ]
    if len(number) == LENGTH and not strange:
        lines += [*_check(number, result), _year(number, result)]
    return (*lines, _verdict(result))


def _check(number: str, result: VinResult) -> list[Line]:
    """Work out the check digit, character by character."""
    values = [LETTER_VALUES.get(char) or int(char) for char in number]
    products = [weight * value for weight, value in zip(WEIGHTS, values, strict=True)]
    total = sum(products)
    rest = total % MODULUS
    table = table_text(
        ("character", *number),
        [
            (told("value"), *map(str, values)),
            (told("weight"), *map(str, WEIGHTS)),
            (told("product"), *map(str, products)),
        ],
    )
    return [
        Line(what="Each character's value times the weight of its position", numbers=table),
        Line(
            what="Rest of the sum of products divided by 11",
            formula=told("sum mod 11"),
            numbers=f"{total} - {MODULUS} x {total // MODULUS}",
            value=told("{rest}, written {value}", rest=rest, value="0123456789X"[rest]),
        ),
        Line(
            what="Check digit: position 9 against that. Binding only for numbers of North America;"
            " elsewhere the position is free, and a letter other than X means that it is not used",
            numbers=against(number[CHECK_AT], "0123456789X"[rest]),
            value=result.check_digit,
        ),
    ]


def _year(number: str, result: VinResult) -> Line:
    """Read the model year."""
    code = number[YEAR_AT]
    if code not in YEAR_CODES:
        return Line(what="Model year: position 10", numbers=code, value="no code of a model year")
    early = FIRST_YEAR + YEAR_CODES.index(code)
    return Line(
        what="Model year: position 10 repeats every thirty years. For North American cars and light"
        " trucks a digit in position 7 means the earlier, a letter the later; elsewhere nothing"
        " resolves it",
        numbers=told(
            "{code} means {early} or {late}; position 7 is {character}",
            code=code,
            early=early,
            late=early + PERIOD_YEARS,
            character=number[PERIOD_AT],
        ),
        value="not certain" if result.model_year is None else str(result.model_year),
    )


def _verdict(result: VinResult) -> Line:
    """Say what decides."""
    return Line(
        what="Comparison: valid when the form fits, and for North America the check digit too",
        value="valid" if result.valid else "not valid",
    )
