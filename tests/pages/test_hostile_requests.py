"""Whatever is sent to whichever address by whom: the server answers, and the record holds."""

import time
from collections import Counter

import pytest
from django.conf import settings as django_settings
from hypothesis import HealthCheck, given, settings

from jobs.practice.scene import Scene
from tests.pages.conftest import ROLES, Visit
from tests.pages.hostile import Hostile, aims_of, hostile, paths_of, send

pytestmark = pytest.mark.django_db

NAME = django_settings.SESSION_COOKIE_NAME
WORK_S, WAIT_S = 5, 60
"""Work of the processor that a request may cost, and time by the clock on a busy machine [s]."""


def play(scene: Scene, as_role: Visit, requests: int, *, derandomize: bool) -> Counter[int]:
    """Send that many hostile requests and count the answers by status."""
    job, seen = str(scene.job), Counter[int]()
    clients = {role: as_role(role) for role in ("", *ROLES)}
    cookies = {role: client.cookies[NAME].value if role else "" for role, client in clients.items()}
    aims = aims_of(clients["manager"], paths_of(scene))

    @settings(
        max_examples=requests,
        derandomize=derandomize,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(hostile(sorted(clients), aims, job))
    def sends(request: Hostile) -> None:
        began, worked = time.monotonic(), time.thread_time()
        seen[send(request, cookies[request.role], job)] += 1
        assert time.thread_time() - worked < WORK_S
        assert time.monotonic() - began < WAIT_S

    sends()
    return seen


def test_no_request_breaks_the_server_or_the_record(scene: Scene, as_role: Visit) -> None:
    seen = play(scene, as_role, 600, derandomize=True)
    assert sum(seen.values()) >= 600
    assert {200, 302, 400, 403, 404, 405} <= set(seen)
