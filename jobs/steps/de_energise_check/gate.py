"""What stands against signing the de-energise check, and against live work in later steps.

Here: `live_work_blockers`, used by the hold points of every step that works on live parts.
"""

from datetime import timedelta
from typing import Any

from jobs.core.item import EquipmentUsed
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Given, Record
from jobs.steps.de_energise_check.items import LiveWork

AIR_TEST_H = 12.0
"""How long an air test and a promise to stand by count [h]: one working day, shop default."""

LIVE_GLOVES_LAPSED = Reason(
    "live_gloves_lapsed", "{label} is past its test date. Take gloves that are in test."
)
LIVE_GLOVES_RATING = Reason(
    "live_gloves_rating",
    "{label} is rated {rated_v:.0f} V; this pack reaches {highest_v:.0f} V. Take a higher class.",
)
LIVE_AIR_TEST_OLD = Reason(
    "live_air_test_old", "The air test is not from this working day. Strike it and test again."
)
LIVE_AIR_TEST_OTHER = Reason(
    "live_air_test_other", "Whoever wears the gloves has to make the air test."
)
LIVE_SHIELD_LAPSED = Reason("live_shield_lapsed", "{label} may not be used. Take another one.")
LIVE_SECOND_OLD = Reason(
    "live_second_old",
    "The second person signed on another working day. Strike it and let them sign again.",
)
LIVE_SECOND_SAME = Reason(
    "live_second_same", "The second person has to be somebody else than the wearer of the gloves."
)
LIVE_SECOND_UNQUALIFIED = Reason(
    "live_second_unqualified", "The second person is not qualified to stand by. Ask somebody else."
)
LIVE_REASONS = (
    LIVE_GLOVES_LAPSED,
    LIVE_GLOVES_RATING,
    LIVE_AIR_TEST_OLD,
    LIVE_AIR_TEST_OTHER,
    LIVE_SHIELD_LAPSED,
    LIVE_SECOND_OLD,
    LIVE_SECOND_SAME,
    LIVE_SECOND_UNQUALIFIED,
)

SECOND_PERSON = ("second_person", "live_work")


def _of_this_day(record: Record, given: Given[Any]) -> bool:
    return record.now - given.at <= timedelta(hours=AIR_TEST_H)


def glove_blockers(record: Record, key: str, gloves: EquipmentUsed) -> tuple[Blocker, ...]:
    """Say what is wrong with a pair of gloves for this pack.

    Parameters
    ----------
    record : Record
        The job as it stands.
    key : str
        The item that picks the gloves.
    gloves : EquipmentUsed
        The gloves as they stood when picked.

    Returns
    -------
    tuple[Blocker, ...]
        Test lapsed or without date, or rated below the highest voltage of the pack.
    """
    found = []
    if gloves.due_on is None or not gloves.in_date(record.now.date()):
        found.append(LIVE_GLOVES_LAPSED(key, label=gloves.label))
    rated_v = gloves.number("max_dc_v")
    if record.pack is not None and rated_v < record.pack.working_v:
        found.append(
            LIVE_GLOVES_RATING(
                key, label=gloves.label, rated_v=rated_v, highest_v=record.pack.working_v
            )
        )
    return tuple(found)


def _second_blockers(record: Record, live: LiveWork, wearer: str) -> tuple[Blocker, ...]:
    second, key = record.given(live.second), live.second.key
    if second is None:
        return ()
    found = []
    today = record.now.date()
    if not any(second.value.holds(code, today) for code in SECOND_PERSON):
        found.append(LIVE_SECOND_UNQUALIFIED(key))
    if second.value.id == wearer:
        found.append(LIVE_SECOND_SAME(key))
    if not _of_this_day(record, second):
        found.append(LIVE_SECOND_OLD(key))
    return tuple(found)


def live_work_blockers(record: Record, live: LiveWork) -> tuple[Blocker, ...]:
    """Say what stands against starting live work, beyond items not entered.

    Parameters
    ----------
    record : Record
        The job as it stands.
    live : LiveWork
        The step's own four items.

    Returns
    -------
    tuple[Blocker, ...]
        Gloves lapsed or under-rated, air test old or by another person, shield withdrawn or
        lapsed, second person the same, unqualified, or of another day.

    Notes
    -----
    A working day is counted as 12 hours back from now, so that it does not break at midnight UTC
    (shop default, no source). Air test before each day's use: 29 CFR 1910.137(c)(2).
    """
    found: list[Blocker] = []
    gloves, air_test = record.given(live.gloves), record.given(live.air_test)
    shield = record.get(live.shield)
    if gloves is not None:
        found += glove_blockers(record, live.gloves.key, gloves.value)
    if air_test is not None:
        if not _of_this_day(record, air_test):
            found.append(LIVE_AIR_TEST_OLD(live.air_test.key))
        if gloves is not None and air_test.person != gloves.person:
            found.append(LIVE_AIR_TEST_OTHER(live.air_test.key))
    if shield is not None and not shield.in_date(record.now.date()):
        found.append(LIVE_SHIELD_LAPSED(live.shield.key, label=shield.label))
    return (*found, *_second_blockers(record, live, "" if gloves is None else gloves.person))
