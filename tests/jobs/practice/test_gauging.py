"""The tools of the later steps show a figure only where they are held right."""

from collections.abc import Iterator

import pytest
from django.urls import reverse

from jobs.core.order import find_item
from jobs.practice.player import play
from jobs.practice.room.gauging import TOOLS, gauge_at, spots_for
from jobs.practice.room.looking import MODES, Look, Shown
from jobs.practice.scene import Scene
from jobs.steps import STEPS
from jobs.steps.module_swap.items import GAP, LINKS, SPARE_OHM, SPARES, TIE
from jobs.steps.road_test.items import BONDING
from jobs.steps.seal_test.items import SAMPLE, SAMPLES
from tests.jobs.practice.learner import Learner, a_learner
from tests.play import a_job_at

M9 = "module=M9"


def held(scene: Scene, item: str, red: str, black: str = "spot", *, qualifier: str = "") -> Shown:
    return gauge_at(scene, Look(item=item, qualifier=qualifier, red=red, black=black))


@pytest.fixture
def swap() -> Iterator[Scene]:
    with a_job_at("module_swap") as scene:
        yield scene


@pytest.fixture
def learner() -> Iterator[Learner]:
    with a_learner("hard_leak", slug="city-hatchback", seed=11) as hands:
        yield hands


@pytest.mark.django_db
def test_a_voltmeter_reads_across_the_ends_and_turned_round_below_zero(swap: Scene) -> None:
    play(swap, until=SPARES.cell_v.key)
    key = SPARES.cell_v.key
    right = held(swap, key, "end:pos", "end:neg", qualifier=M9)
    assert float(right.last) == pytest.approx(3.56, abs=0.02)
    assert right.unit == "V"
    assert held(swap, key, "end:neg", "end:pos", qualifier=M9).last.startswith("−3.5")
    lost = held(swap, key, "end:pos", "end:pos", qualifier=M9)
    assert lost.frames == ()
    assert "two ends" in lost.said


@pytest.mark.django_db
def test_a_torque_tool_shows_a_bolt_within_its_stage(swap: Scene) -> None:
    play(swap, until=TIE.values.key)
    item = find_item(STEPS, swap.record(), TIE.values.key)
    assert item is not None
    spots = spots_for(swap, TIE.values.key)
    assert [each.label for each in spots] == list(item[1].rows)
    assert spots
    stage = (item[1].expected or item[1].offered)[0]
    shown = held(swap, TIE.values.key, spots[0].code, qualifier=stage)
    assert float(shown.last) > 0.0
    assert shown.unit == "Nm"
    assert shown.said == f"Held at {spots[0].label}."
    assert held(swap, TIE.values.key, "row:none", qualifier=stage).frames == ()


@pytest.mark.django_db
def test_a_feeler_gauge_and_a_millivolt_meter_read_one_place_at_a_time(swap: Scene) -> None:
    play(swap, until=GAP.key)
    spots = spots_for(swap, GAP.key)
    assert float(held(swap, GAP.key, spots[0].code, qualifier=M9).last) > 0.0
    play(swap, until=LINKS.drops.key)
    read = [held(swap, LINKS.drops.key, each.code) for each in spots_for(swap, LINKS.drops.key)]
    figures = [float(each.last) for each in read if each.frames]
    assert len(figures) >= 3
    assert all(2.0 < figure < 6.0 for figure in figures)
    assert {each.said for each in read if not each.frames} <= {
        "Left as it is: this one was not undone."
    }


@pytest.mark.django_db
def test_the_seal_tests_gauge_falls_while_the_clock_goes_on() -> None:
    with a_job_at("seal_test") as scene:
        scene.stop = SAMPLES.key
        play(scene, until=SAMPLES.key)
        first = float(held(scene, SAMPLE.key, "gauge").last)
        scene.wait(minutes=30)
        later = float(held(scene, SAMPLE.key, "gauge").last)
        assert later < first
        assert held(scene, SAMPLE.key, "thermometer").unit == "°C"
        assert float(held(scene, SAMPLE.key, "barometer").last) == pytest.approx(1013.25, abs=0.1)
        assert held(scene, SAMPLE.key, "elsewhere").frames == ()


@pytest.mark.django_db
def test_bonding_is_read_from_a_point_to_the_chassis() -> None:
    with a_job_at("road_test") as scene:
        play(scene, until=BONDING.key)
        point, *_, chassis = spots_for(scene, BONDING.key)
        shown = held(scene, BONDING.key, chassis.code, point.code)
        assert 0.0 < float(shown.last) < 0.1
        assert shown.unit == "Ω"
        assert held(scene, BONDING.key, point.code, point.code).frames == ()


def test_no_card_has_both_kinds_of_instrument() -> None:
    assert set(TOOLS).isdisjoint(MODES)
    assert SPARE_OHM.key in TOOLS


@pytest.mark.django_db
def test_the_page_gives_the_tool_and_what_is_not_asked_shows_nothing(learner: Learner) -> None:
    address = reverse("jobs:practice_bench", args=(learner.job,))
    page = learner.client.get(address, {"item": SAMPLE.key}).content.decode()
    assert 'data-black="spot"' in page
    assert "data-lead" not in page
    assert 'data-place="barometer"' in page
    status, told = learner.ask("look", item=GAP.key, red="row:1", black="spot")
    assert status == 200
    assert told["frames"] == []
    assert "not asked" in told["said"]
