"""A yard in which a removed module is watched, and hands that check and end the watch."""

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta

from jobs.actions.quarantine import Ending, NewCheck, add_check, end_watch
from jobs.core.watch import Word
from jobs.core.watch_check import TypedCheck
from jobs.models import QuarantineWatch
from jobs.practice.scene import Scene
from jobs.queries.quarantine import WatchInfo, watch
from jobs.steps.module_swap.items import WATCH_STARTED
from tests.play import a_job_at

M9 = "module=M9"


@dataclass
class Yard:
    """A job in whose swap a watch was started, and hands that check and end it."""

    scene: Scene
    id: str = ""

    def now(self) -> datetime:
        return self.scene.clock.now()

    def info(self) -> WatchInfo:
        info = watch(self.id, self.now())
        assert info is not None
        return info

    def wait(self, **time: float) -> None:
        self.scene.wait(**time)

    def typed(self, *points: str, ambient: str = "10", **more: object) -> TypedCheck:
        names = ("Top", "Left", "Right")
        measured = tuple(zip(names, points or ("11", "11.5"), strict=False))
        return TypedCheck(ambient_c=ambient, points=measured, **more)  # type: ignore[arg-type]

    def check(
        self, *points: str, by: str = "Aster", key: str = "", corrects: str = "", **more: object
    ) -> Word:
        new = NewCheck(
            key=key or str(uuid.uuid4()),
            watch_id=self.id,
            typed=self.typed(*points, **more),  # type: ignore[arg-type]
            corrects=corrects,
        )
        return add_check(new=new, by=self.scene.shop.people[by], now=self.now())

    def keep(self, days: float) -> None:
        """Check whenever it is asked for, until so many days are over."""
        until = self.now() + timedelta(days=days)
        while self.info().schedule.next.due_at <= until:
            self.scene.clock.moment = max(self.now(), self.info().schedule.next.due_at)
            self.check()
        self.scene.clock.moment = until

    def end(self, how: str = "disposal", *, by: str = "Aster", **more: str) -> None:
        fields = {"key": str(uuid.uuid4()), "to": "Carrier, receipt 12", "note": "", **more}
        pin = fields.pop("pin", self.scene.shop.pin)
        ending = Ending(watch_id=self.id, how=how, **fields)
        end_watch(ending=ending, by=self.scene.shop.people[by], pin=pin, now=self.now())


@contextmanager
def a_swap() -> Iterator[Yard]:
    """Give a yard beside an open module swap from which nothing was removed yet."""
    with a_job_at("module_swap") as scene:
        yield Yard(scene)


@contextmanager
def a_yard() -> Iterator[Yard]:
    """Give a yard with a watch just started, before anything else was said of the module."""
    with a_swap() as yard:
        yard.scene.enter(WATCH_STARTED, at=M9, raw=True)
        yard.id = str(QuarantineWatch.objects.get().id)
        yield yard
