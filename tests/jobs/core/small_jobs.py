"""Jobs in the three small rooms, brought to the point where a test begins."""

from jobs.core.reason import Blocker
from tests.builders import MUNK, Bench
from tests.small_rooms import LID_OFF, PULL, SECOND, VOLTS


def codes(blockers: tuple[Blocker, ...]) -> list[str]:
    return [blocker.code for blocker in blockers]


def a_looked_at_job(volts: str = "3") -> Bench:
    bench = Bench()
    bench.put(VOLTS, volts)
    bench.put(SECOND, by=MUNK)
    return bench


def a_job_at_work(volts: str = "3") -> Bench:
    bench = a_looked_at_job(volts)
    bench.sign("look")
    bench.prove()
    return bench


def a_job_with_the_lid_off() -> Bench:
    bench = a_job_at_work()
    bench.put(PULL)
    bench.hold("work", "open")
    bench.put(LID_OFF)
    return bench
