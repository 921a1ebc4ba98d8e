"""Ten thousand hostile requests, drawn anew each time."""

import pytest

from jobs.practice.scene import Scene
from tests.pages.conftest import Visit, as_role, scene
from tests.pages.test_hostile_requests import play

__all__ = ["as_role", "scene"]


@pytest.mark.bench
@pytest.mark.django_db
def test_ten_thousand_requests_break_nothing(scene: Scene, as_role: Visit) -> None:
    seen = play(scene, as_role, 10_000, derandomize=False)
    assert sum(seen.values()) >= 10_000, dict(seen)
