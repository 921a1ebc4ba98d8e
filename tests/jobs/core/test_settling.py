"""A settling that is being recorded says how many more readings it needs, then its end value."""

from dataclasses import replace
from math import exp

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.settling import meter_used, settling_so_far
from jobs.steps.isolation_readings.items import PACK
from packs.physics.decay import Sample
from packs.settling_curve import settling_curve
from packs.svg import svg
from tests.jobs.steps.isolation_scene import an_isolation_bench

RECORD = an_isolation_bench().record()


def rows(end_v: float, count: int, step_s: float = 5.0, tau_s: float = 5.0) -> list[Sample]:
    return [
        Sample(t_s=step_s * n, v=round(end_v + 60.0 * exp(-step_s * n / tau_s), 2))
        for n in range(count)
    ]


@pytest.mark.parametrize(("count", "words"), [(0, 3), (1, 2), (2, 1)])
def test_too_few_readings_say_how_many_more(count: int, words: int) -> None:
    found = settling_so_far(RECORD, PACK.settling, rows(0.0, count))
    assert (found.said.params["count"], found.enough, found.found) == (words, False, None)


@pytest.mark.parametrize(("end_v", "kind"), [(0.3, "floating"), (24.0, "standing")])
def test_enough_gives_the_end_value_with_its_interval(end_v: float, kind: str) -> None:
    found = settling_so_far(RECORD, PACK.settling, rows(end_v, 9))
    assert found.enough
    assert found.said.params["kind"] == kind
    assert (
        abs(float(found.said.params["end_v"]) - end_v) <= float(found.said.params["half_v"]) + 0.1
    )


def test_an_undecided_settling_says_what_helps() -> None:
    found = settling_so_far(RECORD, PACK.settling, rows(0.0, 3, step_s=1.0, tau_s=20.0))
    assert (found.enough, found.more is None) == (False, False)


def test_without_a_voltmeter_nothing_is_decided() -> None:
    live = {key: given for key, given in RECORD.live.items() if not key.endswith("meter")}
    bare = replace(RECORD, live=live)
    assert meter_used(bare, PACK.settling) is None
    assert not settling_so_far(bare, PACK.settling, rows(0.0, 9)).enough


def test_times_that_do_not_rise_are_said() -> None:
    twice = [Sample(t_s=0.0, v=9.0)] * 3
    assert "why" in settling_so_far(RECORD, PACK.settling, twice).said.params


@settings(max_examples=25, deadline=None)
@given(
    st.floats(-40, 40), st.floats(0.5, 60), st.integers(1, 12), st.sampled_from([0.5, 5.0, 30.0])
)
def test_the_curve_draws_every_reading_inside_its_frame(
    end_v: float, tau_s: float, count: int, step_s: float
) -> None:
    taken = rows(end_v, count, step_s, tau_s)
    picture = settling_curve(taken, settling_so_far(RECORD, PACK.settling, taken).found)
    drawn = svg(picture)
    assert drawn.count("<circle") == count
    for shape in picture.shapes:
        for x_mm, y_mm in getattr(shape, "points", ()):
            assert 0 <= x_mm <= picture.width_mm
            assert 0 <= y_mm <= picture.height_mm
    assert f"{count} readings" in picture.description
