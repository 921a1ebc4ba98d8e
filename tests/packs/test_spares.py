"""States of a spare and the moves between them."""

from dataclasses import replace
from datetime import date
from uuid import UUID

import pytest

from packs.spare_tests import SpareTest
from packs.spares import (
    BARS,
    FITTED,
    IN_STOCK,
    JOB_MOVES,
    MOVES,
    QUARANTINED,
    RESERVED,
    SCRAPPED,
    STATES,
    SpareInfo,
    bars,
    days_since,
    moves_by_hand,
)

SOUND = SpareTest(capacity_ah=112.0, insulation_ohm=5.5e8, tested_on=date(2026, 2, 20))
STOCKED = SpareInfo(
    id=UUID(int=1),
    serial="S-1",
    part="OB-M6-120",
    chemistry="nmc",
    cells=6,
    test=SOUND,
    provenance="Donor van",
    place="Rack 2",
    state=IN_STOCK,
)
HELD = replace(STOCKED, state=RESERVED, reserved_for="Q000004", module="M9")
ASIDE = replace(HELD, module="")


@pytest.mark.parametrize(
    ("spare", "job", "codes"),
    [
        (STOCKED, "", []),
        (HELD, "", ["reserved"]),
        (HELD, "Q000005", ["reserved"]),
        (HELD, "Q000004", []),
        (ASIDE, "Q000004", []),
        (replace(ASIDE, reserved_for=""), "Q000004", ["set_aside"]),
        (replace(HELD, state=FITTED), "Q000004", ["fitted"]),
        (replace(STOCKED, state=FITTED), "", ["fitted_elsewhere"]),
        (replace(STOCKED, state=QUARANTINED), "", ["quarantined"]),
        (replace(STOCKED, state=SCRAPPED), "", ["scrapped"]),
        (replace(STOCKED, test=SpareTest()), "", ["no_test", "insulation_unread"]),
        (replace(STOCKED, test=replace(SOUND, insulation_ohm=None)), "", ["insulation_unread"]),
    ],
)
def test_what_bars_a_spare_is_said(spare: SpareInfo, job: str, codes: list[str]) -> None:
    found = bars(spare, job=job)
    assert [bar.code for bar in found] == codes
    assert all(bar.text.format(job=bar.job) for bar in found)
    assert set(codes) <= set(BARS)


def test_what_a_job_holds_may_by_hand_only_change_its_place_or_go_into_quarantine() -> None:
    assert moves_by_hand(HELD) == {RESERVED, QUARANTINED}
    assert moves_by_hand(ASIDE) == {RESERVED, IN_STOCK, QUARANTINED}
    assert moves_by_hand(replace(HELD, state=FITTED)) == {QUARANTINED}


def test_nothing_is_fitted_by_hand() -> None:
    states = [replace(STOCKED, state=state) for state in STATES]
    assert not any(FITTED in moves_by_hand(spare) for spare in states)


def test_a_job_takes_nothing_out_of_quarantine_or_the_scrap() -> None:
    assert not JOB_MOVES.keys() & {QUARANTINED, SCRAPPED}


def test_the_age_of_a_test_is_counted_in_days() -> None:
    assert days_since(SOUND, date(2026, 3, 2)) == 10
    assert days_since(SpareTest(), date(2026, 3, 2)) is None


def test_every_state_has_its_moves_and_its_words() -> None:
    assert set(MOVES) == set(STATES)
    assert {state for after in MOVES.values() for state in after} <= set(STATES)


def test_nothing_follows_the_scrap() -> None:
    assert MOVES[SCRAPPED] == frozenset()


def test_what_was_fitted_comes_back_only_through_quarantine() -> None:
    assert MOVES[FITTED] == {QUARANTINED}


def test_only_what_was_reserved_is_fitted() -> None:
    assert [state for state, after in MOVES.items() if FITTED in after] == ["reserved"]


@pytest.mark.parametrize(
    ("test", "bound"),
    [
        (SpareTest(), False),
        (SpareTest(insulation_ohm=2e6), False),
        (SpareTest(insulation_ohm=5.5e8, insulation_comparator=">"), True),
    ],
)
def test_an_insulation_reading_knows_whether_it_is_a_bound(test: SpareTest, *, bound: bool) -> None:
    assert test.insulation_is_bound is bound
