"""Moves of spares by hand and by jobs: none that cannot be, and a history that only grows."""

from datetime import UTC, datetime
from itertools import pairwise
from uuid import UUID

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from packs import actions, queries
from packs.errors import Conflict, InputRefused, Refused
from packs.spares import (
    FITTED,
    IN_STOCK,
    JOB_MOVES,
    MOVES,
    QUARANTINED,
    RESERVED,
    STATES,
    NewSpare,
    SpareInfo,
)

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
FIRST, OTHER = "Q000004", "Q000005"

pytestmark = pytest.mark.django_db


def a_spare(**more: str) -> SpareInfo:
    plain = {"serial": "S-1", "part": "P", "chemistry": "nmc", "provenance": "Donor van"}
    new = NewSpare(cells=6, **{**plain, **more})  # type: ignore[arg-type]
    return actions.add_spare(new=new, by=None, now=NOW)


def held(spare: SpareInfo, job: str = FIRST, module: str = "M9") -> SpareInfo:
    return actions.hold_spare(spare_id=spare.id, job=job, module=module, by=None, now=NOW)


def fitted(spare: SpareInfo, job: str = FIRST) -> SpareInfo:
    return actions.fit_spare(spare_id=spare.id, job=job, module="M9", by=None, now=NOW)


def moved(spare: SpareInfo, state: str, place: str = "", note: str = "x") -> SpareInfo:
    return actions.move_spare(
        spare_id=spare.id, state=state, place=place, by=None, now=NOW, note=note
    )


def released(spare: SpareInfo, *, set_aside: bool = False) -> SpareInfo:
    actions.release_spares(job=FIRST, set_aside=set_aside, by=None, now=NOW)
    return queries.spare(spare.id)


def test_a_removed_module_begins_in_quarantine() -> None:
    assert a_spare(state=QUARANTINED).state == QUARANTINED


def test_two_jobs_do_not_hold_one_spare_in_either_order() -> None:
    spare = a_spare()
    for first, late in ((FIRST, OTHER), (OTHER, FIRST)):
        held(spare, first)
        with pytest.raises(Conflict, match=f"reserved for job {first}"):
            held(spare, late)
        with pytest.raises(Conflict, match=f"reserved for job {first}"):
            fitted(spare, late)
        actions.release_spares(job=first, by=None, now=NOW)


def test_holding_and_fitting_twice_writes_once() -> None:
    spare = a_spare()
    for act in (held, held, fitted, fitted):
        act(spare)
    assert [event.state for event in queries.spare_events(spare.id)] == [
        IN_STOCK,
        RESERVED,
        FITTED,
    ]


def test_what_was_set_aside_by_hand_without_a_job_is_not_taken_by_one() -> None:
    spare = moved(a_spare(), RESERVED)
    with pytest.raises(Conflict):
        held(spare)
    assert held(moved(spare, IN_STOCK)).reserved_for == FIRST


def test_what_a_job_holds_is_not_freed_by_hand_and_may_go_into_quarantine() -> None:
    spare = held(a_spare())
    for state in (IN_STOCK, FITTED):
        with pytest.raises(Conflict, match=f"reserved for job {FIRST}"):
            moved(spare, state)
    with pytest.raises(Conflict, match=f"reserved for job {FIRST}"):
        actions.set_spare_aside(spare_id=spare.id, job=OTHER, place="", by=None, now=NOW)
    assert moved(spare, RESERVED, "Bay 2").held
    gone = moved(spare, QUARANTINED, "Yard")
    assert (gone.reserved_for, gone.module) == ("", "")
    last = queries.spare_events(spare.id)[-1]
    assert (last.job, last.module, last.place) == (FIRST, "M9", "Yard")


def test_what_is_kept_or_only_set_aside_is_not_released_before_the_job_closes() -> None:
    spare = held(a_spare())
    actions.release_spares(job=FIRST, keep=frozenset({spare.id}), by=None, now=NOW)
    assert queries.spare(spare.id).held
    assert released(spare).state == IN_STOCK
    actions.set_spare_aside(spare_id=spare.id, job=FIRST, place="", by=None, now=NOW)
    assert released(spare).state == RESERVED
    assert released(spare, set_aside=True).state == IN_STOCK


def test_places_it_stood_in_stay_in_the_history() -> None:
    spare = a_spare(place="Rack 1")
    for place in ("Rack 2", "Rack 3"):
        moved(spare, IN_STOCK, place)
    places = [event.place for event in queries.spare_events(spare.id)]
    assert places == ["Rack 1", "Rack 2", "Rack 3"]


ACT = st.one_of(
    st.tuples(st.just("move"), st.sampled_from([*STATES, "gone"]), st.sampled_from(["", "Rack"])),
    st.tuples(st.just("aside"), st.sampled_from([FIRST, OTHER]), st.just("Bay")),
    st.tuples(st.just("hold"), st.sampled_from([FIRST, OTHER]), st.sampled_from(["M1", "M2"])),
    st.tuples(st.just("fit"), st.sampled_from([FIRST, OTHER]), st.sampled_from(["M1", "M2"])),
    st.tuples(st.just("release"), st.sampled_from([FIRST, OTHER]), st.booleans()),
)


def act(spare_id: UUID, what: str, first: str, second: object) -> None:
    if what == "move":
        actions.move_spare(
            spare_id=spare_id, state=first, place=str(second), by=None, now=NOW, note="x"
        )
    elif what == "aside":
        actions.set_spare_aside(spare_id=spare_id, job=first, place=str(second), by=None, now=NOW)
    elif what == "release":
        actions.release_spares(job=first, set_aside=bool(second), by=None, now=NOW)
    else:
        do = actions.hold_spare if what == "hold" else actions.fit_spare
        do(spare_id=spare_id, job=first, module=str(second), by=None, now=NOW)


class Walks(TestCase):
    @settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
    @given(st.lists(ACT, max_size=14))
    def test_no_walk_makes_a_move_that_cannot_be_or_loses_a_line(
        self, walk: list[tuple[str, str, object]]
    ) -> None:
        spare = a_spare()
        lines = list(queries.spare_events(spare.id))
        for what, first, second in walk:
            before = queries.spare(spare.id)
            refused = False
            try:
                act(spare.id, what, first, second)
            except Refused:
                refused = True
            after, history = queries.spare(spare.id), list(queries.spare_events(spare.id))
            assert history[: len(lines)] == lines
            assert refused <= (history == lines and after == before)
            assert (after == before) == (history == lines)
            allowed = MOVES[before.state] | JOB_MOVES.get(before.state, frozenset())
            step = [event.state for event in history[len(lines) - 1 :]]
            for now, then in pairwise(step):
                allowed = MOVES[now] | JOB_MOVES.get(now, frozenset())
                assert then in allowed
            held_by_other = before.held and before.reserved_for not in {first, ""}
            if held_by_other and what in {"hold", "fit", "aside"}:
                assert refused
            assert not after.reserved_for or after.state in {RESERVED, FITTED}
            lines = history


def test_a_state_that_is_none_is_refused_before_anything_else() -> None:
    spare = a_spare()
    with pytest.raises(InputRefused):
        moved(spare, "gone")
    assert len(queries.spare_events(spare.id)) == 1


def test_what_a_job_fitted_is_never_put_back_into_stock_by_it() -> None:
    spare = fitted(held(a_spare()))
    held(spare)
    open_still = released(spare)
    assert (open_still.state, open_still.reserved_for) == (RESERVED, FIRST)
    closed = released(spare, set_aside=True)
    assert (closed.state, closed.reserved_for, closed.module) == (QUARANTINED, "", "")
    last = queries.spare_events(spare.id)[-1]
    assert (last.state, last.job) == (QUARANTINED, FIRST)
    assert "fitted in this job" in last.note


def test_what_came_back_into_stock_by_hand_since_is_released_as_before() -> None:
    spare = fitted(held(a_spare()))
    held(spare)
    released(spare, set_aside=True)
    moved(spare, IN_STOCK, "Rack")
    held(spare)
    assert released(spare, set_aside=True).state == IN_STOCK
