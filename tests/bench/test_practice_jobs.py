"""Every kind of fault can be practised to its end with nothing but the practice's own addresses."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any, Final

import pytest

from jobs.practice.answers import BOOK
from jobs.practice.player import play
from jobs.practice.room.faults import FAULTS
from jobs.practice.room.marking import score_of
from jobs.practice.room.running import running
from jobs.queries.lists import closed_jobs, open_jobs
from jobs.queries.verify import verify_job
from jobs.steps.module_swap.items import SPARE
from tests.jobs.practice.learner import a_learner, pick_spare
from tests.jobs.practice.test_practice_jobs import rows
from workshop import queries as shop

pytestmark = [pytest.mark.bench, pytest.mark.django_db]

PLACES: Final[Mapping[str, tuple[str, int]]] = {
    "hard_leak": ("delivery-van", 7),
    "soft_leak": ("city-hatchback", 11),
    "two_leaks": ("delivery-van", 12),
    "wet_leak": ("delivery-van", 13),
    "vehicle_part": ("city-hatchback", 14),
    "sound": ("minibus", 15),
    "flat_meter": ("minibus", 16),
    "out_of_date": ("city-hatchback", 17),
}
"""On which pack, from which number each kind is played."""
MOST_TIMES_NEEDED = 2


def _sound(score: Mapping[str, Any]) -> bool:
    wrong = ("other_than_shown", "other_place", "not_looked", "struck", "hints")
    return not score["dangers"] and not score["refused"] and not any(score[each] for each in wrong)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_practice_runs_to_its_end(fault: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(BOOK, SPARE.key, pick_spare)
    slug, seed = PLACES[fault]
    with a_learner(fault, slug=slug, seed=seed) as learner:
        before = rows()
        play(learner)
        assert rows() == before
        record, info = learner.record(), learner.info()
        assert record.closed is not None
        assert record.closed.how == ("not_found" if fault == "sound" else "handed_over")
        assert verify_job(learner.uuid) == ()
        now = learner.clock.now()
        day = shop.local_day(now + timedelta(seconds=info.ahead_s))
        assert open_jobs(now=now, today=day) == ()
        assert closed_jobs().rows == ()
        score = score_of(running(info, now=now), now=now).kept()
        assert score["missed"] == score["condemned"] == ()
        assert set(score["leaking_parts"]) <= set(score["named_parts"])
        assert _sound(score), score
        assert score["needed"] is not None
        assert score["readings"] <= MOST_TIMES_NEEDED * score["needed"]
