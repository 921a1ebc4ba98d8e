"""What to keep in mind with an answer of localise, in words.

Here: the warnings. Not here: the answer itself (localise.py).
"""

import numpy as np

from packs.physics.evidence import Evidence
from packs.physics.instrument import Message
from packs.physics.localise_case import LocaliseCase, LocaliseResult
from packs.physics.localise_doubt import DOUBTFUL, Doubt
from packs.physics.posterior import MOST_READINGS
from packs.physics.string_frame import StringFrame
from packs.physics.unit_suspicion import suspect, suspicions
from packs.words import told

LEAST_INPUT_OHM, LEAST_SHUNT_OHM = 1.0e5, 5.0e3
"""Voltmeters and shunts below that are not met on a high-voltage string, shop default, [ohm]."""
MOST_STRINGS, MOST_SPREAD_V, MOST_STEP_V = 3.0, 0.3, 5.0
"""Readings beyond three times the string, and cells or displays as coarse as that, are odd."""


def warnings_of(
    case: LocaliseCase, result: LocaliseResult, evidence: Evidence, doubt: Doubt
) -> tuple[Message, ...]:
    """Return what to keep in mind.

    Parameters
    ----------
    case : LocaliseCase
        The input.
    result : LocaliseResult
        The answer, its warnings still empty.
    evidence : Evidence
        The posterior, summed up.
    doubt : Doubt
        How likely a reading is wrong.

    Returns
    -------
    warnings : tuple of Message
        Codes and sentences.

    Notes
    -----
    Thresholds are shop defaults, no source.
    """
    found = []
    if result.inconsistent:
        text = "No leak or pair of leaks explains all readings well. Check sign, pole and digits."
        found.append(Message("inconsistent_readings", text))
    elif doubt.probability > DOUBTFUL and doubt.suspects:
        where = _in_words(case, doubt.suspects[0].reading)
        text = told(
            "Take {where} again; it may be wrong. {because}",
            where=where,
            because=doubt.suspects[0].because.text,
        )
        found.append(Message("reading_doubtful", text))
    if len(case.readings) > MOST_READINGS:
        text = told(
            "{most} readings were weighed; the others were checked against the answer.",
            most=MOST_READINGS,
        )
        found.append(Message("many_readings", text))
    if result.verdict == "named" and not result.confirmed:
        text = (
            "Two leaks in one section read exactly like one between them. Confirm with the links "
            "on both sides of the named module open, or by a second kind of reading."
        )
        found.append(Message("not_confirmed", text))
    if evidence.none > 0.0 and evidence.hides:
        text = (
            "Sound insulation would explain the readings, but a leak could hide at a pole that "
            "reads near zero. Read a second pole of that section, or use an insulation tester."
        )
        found.append(Message("leak_may_hide", text))
    if result.verdict == "no_leak":
        text = "A leak above 1 megohm cannot be told from the string's own insulation."
        found.append(Message("weak_leak_not_excluded", text))
    if case.propose and not result.confirmed and not result.next_readings:
        text = "No pole can be reached for another reading. Reach one, or use another kind of it."
        found.append(Message("nothing_to_propose", text))
    return tuple(found)


def _in_words(case: LocaliseCase, index: int) -> str:
    """Name a reading."""
    reading = case.readings[index]
    shunt = "without shunt" if reading.shunt_ohm is None else "with shunt"
    return told(
        "the reading of {volts_v:g} V at {module} {pole} {shunt}",
        volts_v=reading.volts,
        module=reading.module,
        pole=reading.pole,
        shunt=shunt,
    )


def unit_warnings(case: LocaliseCase, frame: StringFrame) -> tuple[Message, ...]:
    """Return what looks a thousand times off.

    Parameters
    ----------
    case : LocaliseCase
        The input.
    frame : StringFrame
        Its string.

    Returns
    -------
    warnings : tuple of Message
        Each with the code ``unit_suspect``.

    Notes
    -----
    A reading cannot go beyond the string's own voltage, however wrong the pole. The least
    resistances and the coarsest displays are shop defaults, no source.
    """
    most_v = MOST_STRINGS * float(frame.ends_v[-1])
    furthest = int(np.argmax([abs(each.volts) for each in case.readings]))
    shunts = [
        suspect(
            f"readings.{index}.shunt_ohm",
            reading.shunt_ohm,
            LEAST_SHUNT_OHM,
            np.inf,
            "were kilohms or megohms meant?",
        )
        for index, reading in enumerate(case.readings)
    ]
    first_shunt = next((each for each in shunts if each is not None), None)
    volts = case.readings[furthest].volts
    path = f"readings.{furthest}.volts"
    spread, step = "cell_v_spread_v", "meter.resolution_v"
    input_ohm, words = case.meter.input_ohm, "were kilohms or megohms meant?"
    return suspicions(
        suspect(path, volts, 0.0, most_v, "were millivolts meant?"),
        suspect("meter.input_ohm", input_ohm, LEAST_INPUT_OHM, np.inf, words),
        first_shunt,
        suspect(spread, case.cell_v_spread_v, 0.0, MOST_SPREAD_V, "were millivolts meant?"),
        suspect(step, case.meter.resolution_v, 0.0, MOST_STEP_V, "were millivolts meant?"),
    )
