"""Watches the removed modules of a played job: checks when they are due, with calm readings."""

import uuid
from datetime import datetime, timedelta
from math import pi, sin
from typing import Final

from jobs.actions.quarantine import NewCheck, add_check
from jobs.core.watch_check import TypedCheck
from jobs.practice.scene import SECOND, TECHNICIAN, Scene
from jobs.queries.quarantine import WatchInfo, watch, watches

__all__ = ["keep_watch"]

POINTS: Final = ("Positive terminal", "Negative terminal", "Top, middle", "Left side", "Right side")
NIGHT_C, WARMER_C = 6.0, 6.0
"""Air in the yard at its coldest, and how much warmer the afternoon is [degC, K]."""
AFTER: Final = timedelta(minutes=2)
"""How long after its time a check is made."""


def _air_c(at: datetime) -> float:
    """Give the air in the yard: coldest before dawn, warmest in the afternoon [degC]."""
    hours = at.hour + at.minute / 60.0
    return NIGHT_C + WARMER_C * (1.0 + sin((hours - 10.0) / 24.0 * 2.0 * pi)) / 2.0


def _typed(info: WatchInfo, at: datetime) -> TypedCheck:
    """Give readings of a module that settles a little above the air around."""
    air_c, place = _air_c(at), len(info.checks)
    above_c = 1.0 + 3.0 / (1.0 + (at - info.started_at).total_seconds() / 3600.0)
    points = tuple(
        (name, f"{air_c + above_c + 0.1 * ((place + 2 * number) % 5 - 2):.1f}")
        for number, name in enumerate(POINTS)
    )
    return TypedCheck(ambient_c=f"{air_c:.1f}", points=points)


def keep_watch(scene: Scene, *, until: datetime) -> None:
    """Check every removed module of a job when it is due.

    Parameters
    ----------
    scene : Scene
        The job, played as far as it goes.
    until : datetime
        No check that is due later is made.
    """
    for running in watches(until):
        info = watch(running.id, running.started_at) if running.job_id == scene.job else None
        while info is not None and info.schedule.next.due_at + AFTER <= until:
            info = _checked(scene, info)


def _checked(scene: Scene, info: WatchInfo) -> WatchInfo | None:
    """Make the check that is due next; give the watch after it, as of then."""
    place, at = len(info.checks), info.schedule.next.due_at + AFTER
    key = str(uuid.uuid5(uuid.UUID(info.id), f"check {place}"))
    new = NewCheck(key=key, watch_id=info.id, typed=_typed(info, at))
    add_check(new=new, by=scene.shop.people[(TECHNICIAN, SECOND)[place % 2]], now=at)
    return watch(info.id, at)
