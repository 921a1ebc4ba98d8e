"""A played job moves charge into its spare: readings on the way, rest, then it is fitted."""

from collections.abc import Mapping
from typing import Any

import pytest

from jobs.core.charge_watch import Reading, course_of, plan_of
from jobs.core.item import Item
from jobs.core.spare_runs import hours_between
from jobs.practice.answers import BOOK
from jobs.practice.answers.charging import rested_cell_v
from jobs.practice.player import play
from jobs.practice.scene import Scene
from jobs.queries.practice_shelf import opening_of, spares_for
from jobs.steps.module_swap.assessment import MatchedModule, assess
from jobs.steps.module_swap.items import SPARES
from tests.jobs.practice.learner import a_learner
from tests.play import a_job_at

SLUG = "hatchback-charge"


def module_of(scene: Scene) -> MatchedModule:
    (module,) = assess(scene.record()).modules
    assert isinstance(module, MatchedModule)
    return module


@pytest.mark.django_db
def test_charge_goes_into_the_spare_by_plan_and_it_is_fitted_after_its_rest() -> None:
    with a_job_at("module_swap", SLUG) as scene:
        play(scene, until="reassembly")
        record, module = scene.record(), module_of(scene)
        (run,) = module.check.state.runs
        assert run.off_at is not None
        assert record.get(SPARES.means, f"module={module.name}") == "supply"
        assert len(run.volts) == 5
        shown = [seen.value for seen in run.volts]
        assert shown == sorted(shown), "a module that is charged goes up"
        assert len(run.warm) >= 4
        assert module.check.charge.word == "ready"
        assert module.rest_h is not None
        assert module.rest_h >= module.check.rest_needed_h
        assert run.cell_v is not None
        assert module.check.state.cell_v is not None
        assert module.check.state.cell_v - run.cell_v == pytest.approx(0.033, abs=0.004)
        step = scene.open_step()
        assert step is not None
        assert step.slug == "reassembly"


@pytest.mark.django_db
def test_the_readings_are_those_of_the_plan() -> None:
    with a_job_at("module_swap", SLUG) as scene:
        play(scene, until=SPARES.again_v.key)
        module = module_of(scene)
        case, result = module.check.charge.case, module.check.charge.result
        assert case is not None
        assert result is not None
        plan = plan_of(case, result)
        assert plan is not None
        (run,) = module.check.state.runs
        begun = run.volts[0].at
        readings = [Reading(hours_between(begun, s.at), s.value) for s in run.volts]
        course = course_of(plan, readings, low_v=0.0, high_v=1e3, now_h=readings[-1].hours)
        assert course.pace == "planned"
        assert not any(course.off)
        assert readings[-1].hours == pytest.approx(plan.whole_h, rel=0.05)
        whole = rested_cell_v(case, result, plan, plan.whole_h)
        half = rested_cell_v(case, result, plan, plan.whole_h / 2.0)
        assert whole == pytest.approx(case.target_cell_v, abs=5e-4)
        assert case.spare_cell_v < half < whole, "switched off early, it stands short"


def pick_another_charge(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> str:
    """Pick the practice spare that stands at another charge than the string."""
    record = scene.record()
    opening = opening_of(record)
    assert opening is not None
    part = scene.pack.module_named(parts["module"]).part
    fits = [each for each in spares_for(opening, record.pack) if each.part == part]
    return str(max(fits, key=lambda each: each.test.cell_v or 0.0).id)


@pytest.mark.django_db
def test_a_learner_takes_charge_out_of_a_spare_and_the_room_answers(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(BOOK, SPARES.spare.key, pick_another_charge)
    with a_learner("hard_leak", slug="city-hatchback", seed=11) as learner:
        play(learner, until=SPARES.off.key)
        status, told = learner.ask("take", item=SPARES.means.key, qualifier="module=M1")
        assert status == 422
        assert "yours" in told["said"]
        status, before = learner.ask("read", item=SPARES.watch_v.key, qualifier="")
        assert status == 200
        learner.wait(minutes=10)
        _, after = learner.ask("read", item=SPARES.watch_v.key, qualifier="")
        assert float(after["lines"][0]) < float(before["lines"][0])
        play(learner, until="reassembly")
        module = module_of(learner)
        (run,) = module.check.state.runs
        assert run.off_at is not None
        assert module.check.charge.word == "ready"
        assert "module_swap" in learner.record().signatures
