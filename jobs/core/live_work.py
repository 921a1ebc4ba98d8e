"""Protection before live work: gloves, air test, face shield, second person.

Here: the four items of a step's hold point, and what stands against them. Not here: the hold
point itself and the work behind it (the rooms).
"""

from datetime import UTC, timedelta
from typing import Any, NamedTuple

from jobs.core.item import EquipmentUsed, Item, PersonUsed, equipment, signature, tick
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Given, Record

__all__ = [
    "AIR_TEST_HELP",
    "AIR_TEST_LABEL",
    "GLOVES_LABEL",
    "REASONS",
    "LiveWork",
    "live_work_blockers",
    "live_work_items",
    "worn_blockers",
]

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
    "live_air_test_other", "Whoever wears the gloves air-tests them, after picking them."
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
REASONS = (
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


class LiveWork(NamedTuple):
    """The four things needed before hands go near live parts."""

    gloves: Item[EquipmentUsed]
    air_test: Item[bool]
    shield: Item[EquipmentUsed]
    second: Item[PersonUsed]


GLOVES_LABEL = "Insulating gloves, with leather protectors over them"
AIR_TEST_LABEL = "Gloves inspected and air-tested now, by whoever wears them"
AIR_TEST_HELP = "No hole, no cut, no crack; each time before live work begins."


def live_work_items(slug: str, group: str = "Before live work") -> LiveWork:
    """Make the items of a step's hold point before live work.

    Parameters
    ----------
    slug : str
        The step; its items are named after it.
    group : str
        Heading on the page.

    Returns
    -------
    LiveWork
        Gloves, air test, face shield, second person: the `needs` of the hold point. Gloves and
        air test are never taken from paper, because their day is counted from the entry.
    """
    worn, beside = "Picked by whoever wears them.", "Within sight, hands free, knows whom to call."
    shield, second = "Face shield worn", "Second person stands by"
    return LiveWork(
        equipment(
            f"{slug}.live_gloves", GLOVES_LABEL, ("gloves",), group=group, help=worn,
            on_paper=False,
        ),
        tick(
            f"{slug}.live_air_test", AIR_TEST_LABEL, group=group, help=AIR_TEST_HELP,
            on_paper=False,
        ),
        equipment(f"{slug}.live_shield", shield, ("face_shield",), group=group),
        signature(f"{slug}.live_second", second, group=group, help=beside),
    )  # fmt: skip


def _of_this_day(record: Record, given: Given[Any]) -> bool:
    since = record.now.astimezone(UTC) - given.at.astimezone(UTC)
    return since <= timedelta(hours=AIR_TEST_H)


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


def worn_blockers(
    record: Record, gloves: Given[EquipmentUsed] | None, air_test: Given[bool] | None
) -> list[Blocker]:
    """Say what stands against gloves and their air test, where both or one were entered."""
    found: list[Blocker] = []
    if gloves is not None:
        found += glove_blockers(record, gloves.entry.item, gloves.value)
    if air_test is not None:
        place = (air_test.entry.item, air_test.entry.qualifier)
        if not _of_this_day(record, air_test):
            found.append(LIVE_AIR_TEST_OLD(*place))
        if gloves is not None and (air_test.person, 1) != (
            gloves.person,
            air_test.seq > gloves.seq,
        ):
            found.append(LIVE_AIR_TEST_OTHER(*place))
    return found


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
    A working day is counted as 12 hours back from now, so that a night shift is one day
    (shop default, no source). Air test before each day's use: 29 CFR 1910.137(c)(2).
    """
    gloves, shield = record.given(live.gloves), record.get(live.shield)
    found = worn_blockers(record, gloves, record.given(live.air_test))
    if shield is not None and not shield.in_date(record.now.date()):
        found.append(LIVE_SHIELD_LAPSED(live.shield.key, label=shield.label))
    return (*found, *_second_blockers(record, live, "" if gloves is None else gloves.person))
