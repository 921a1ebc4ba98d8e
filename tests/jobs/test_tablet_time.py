"""What a tablet's own clock says opens no gate: a wait is over when the server's clock says so."""

from datetime import timedelta
from typing import Any

import pytest
from typing_extensions import override

from jobs.core.entry import Kind
from jobs.practice.answers.proof import wait_out
from jobs.practice.player import Stopped, play
from jobs.practice.scene import TECHNICIAN, Draft, Scene
from jobs.practice.tablet import Reply, Straight
from jobs.steps.de_energise_check.assessment import assess_round
from jobs.steps.de_energise_check.items import BEFORE, LOCK, round_now
from tests.play import a_job_at
from workshop import clock

pytestmark = pytest.mark.django_db
STEP = "de_energise_check"
ODD = {
    "a day ahead": timedelta(days=1),
    "a year ahead": timedelta(days=365),
    "a day behind": timedelta(days=-1),
}


class OddClock(Straight):
    """A tablet whose clock is wrong; it says so in each entry, and how far off it thinks it is."""

    off = timedelta()
    told = True

    @override
    def post(self, entry: dict[str, Any]) -> Reply:
        """Send an entry with the tablet's own time."""
        offset_s = -int(self.off.total_seconds()) if self.told else 0
        stamp = (clock.now() + self.off).isoformat()
        return super().post({**entry, "tablet_time": stamp, "clock_offset_s": offset_s})


def proof_before_the_wait_is_over(scene: Scene) -> Reply:
    """Play as far as the first reading of the proof, and ask for the proof at once."""

    def stop(_scene: Scene) -> None:
        raise Stopped

    scene.mishaps = {BEFORE.key: stop}
    play(scene)
    record = scene.record()
    until = assess_round(record, round_now(record)).wait_until
    assert until is not None
    assert record.now < until
    value = {"round": round_now(record)}
    return scene.send(Draft(kind=Kind.PROOF, by=TECHNICIAN, value=value))


@pytest.mark.parametrize("told", [True, False], ids=["says it is off", "says it is right"])
@pytest.mark.parametrize("off", ODD.values(), ids=ODD)
def test_a_wait_is_not_over_because_a_tablet_says_so(
    monkeypatch: pytest.MonkeyPatch, off: timedelta, told: bool
) -> None:
    monkeypatch.setattr(OddClock, "off", off)
    monkeypatch.setattr(OddClock, "told", told)
    with a_job_at(STEP) as scene:
        scene.hand = OddClock
        scene.tablets.clear()
        before = scene.clock.now()
        assert "proof_wait" in proof_before_the_wait_is_over(scene).codes
        entries = [entry for entry in scene.record().entries if entry.item == LOCK.key]
        assert entries
        assert all(before <= entry.at <= scene.clock.now() for entry in entries)
        wait_out(scene)
        value = {"round": round_now(scene.record())}
        reply = scene.send(Draft(kind=Kind.PROOF, by=TECHNICIAN, value=value))
        assert "proof_wait" not in reply.codes
