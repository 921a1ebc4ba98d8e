"""What a list or a page asks of the database does not grow with the jobs that are closed."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Job, QuarantineWatch
from jobs.queries.disposal import awaiting
from jobs.queries.finding import find_all
from jobs.queries.lists import closed_jobs, open_now
from jobs.queries.quarantine import watches
from jobs.queries.records import record_of
from jobs.queries.today import today
from tests.bench.full_shop import copied, put, template
from tests.play import a_job_at
from workshop import clock
from workshop import queries as shop

pytestmark = pytest.mark.django_db

FEW, MANY = 20, 200


def asked(number: str) -> dict[str, int]:
    """Count the queries behind each list, and behind one job."""
    now = clock.now()
    day = shop.local_day(now)
    acts: dict[str, Callable[[], object]] = {
        "open jobs": lambda: open_now(now=now, today=day),
        "today": lambda: today(now=now, day=day),
        "awaiting disposal": lambda: awaiting(now),
        "removed modules": lambda: watches(now),
        "closed jobs": closed_jobs,
        "search": lambda: find_all(number),
        "a job": lambda: record_of(Job.objects.get(number=number).pk, now=now),
    }
    counts = {}
    for name, act in acts.items():
        act()
        with CaptureQueriesContext(connection) as queries:
            act()
        counts[name] = len(queries)
    return counts


def test_what_is_asked_of_the_database_does_not_grow_with_closed_jobs() -> None:
    counted = {}
    with a_job_at("closed", "minibus-module") as scene:
        number = Job.objects.get(pk=scene.job).number
        whole = template(number)
        for begin, end in ((0, FEW), (FEW, MANY)):
            for place in range(begin, end):
                put(copied(whole, f"W{place:06}", -timedelta(days=place + 1)))
            counted[end] = asked(number)
    assert QuarantineWatch.objects.filter(job__number__startswith="W").count() == MANY
    assert counted[FEW] == counted[MANY]
