"""The simulated colleague: a practice job as a scene, and what is entered at a tap.

What teaches nothing to type (serials, forty torques, what the desk was told) is read and entered by
the colleague, through the same door and marked as taken. What is measured, named or decided is not.
"""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any, Final

from typing_extensions import override

from jobs.actions import door
from jobs.actions.practice import let_time_pass, note_act
from jobs.core.draft import Answer
from jobs.core.draft import Draft as Sent
from jobs.core.entry import Json, Kind
from jobs.core.item import Item, Shape, qualifier_parts
from jobs.core.order import find_item
from jobs.core.reason import InputRefused, Reason
from jobs.practice.answers import BOOK
from jobs.practice.book import At, Pass, answer_of
from jobs.practice.room.faults import Hidden
from jobs.practice.room.looking import MODES
from jobs.practice.room.rig import Rig
from jobs.practice.scene import DESK, MANAGER, SECOND, TECHNICIAN, Scene, Stuck
from jobs.practice.shop import Shop, Vehicle
from jobs.queries import practice_shelf as shelf
from jobs.queries.folding import Grounds
from jobs.queries.practice import PracticeInfo
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import LEAKING, SEEN
from jobs.steps.fault_localisation.items import OUTCOME as LEAKS
from jobs.steps.isolation_readings.items import OUTCOME as SIDE
from jobs.steps.module_swap.items import SPARES
from packs.definition import PackDefinition
from workshop import queries as shop
from workshop.clock import FixedClock
from workshop.registers import EquipmentInfo

__all__ = ["REASONS", "PracticeScene", "may_take", "scene_of", "take", "what_is_read"]

NOTHING_TO_TAKE = Reason("practice_nothing", "There is nothing to take here now.")
OWN_WORK = Reason("practice_own_work", "This is yours to read and to decide.")
REASONS = (NOTHING_TO_TAKE, OWN_WORK)

_DECIDED: Final = frozenset({SIDE.key, LEAKS.key, LEAKING.key, SEEN.key, SPARES.means.key})
_PICKED: Final = frozenset(
    {Shape.TICK, Shape.SIGNATURE, Shape.PERSON, Shape.EQUIPMENT, Shape.SPARE}
)
"""What the learner ticks, signs for and picks: which instrument is good is part of the skill."""


@dataclass
class PracticeScene(Scene):
    """A practice job: its own bench, its own instruments, its own time."""

    hidden: Hidden = field(kw_only=True)

    @property
    @override
    def plays(self) -> bool:
        """The learner lets time pass: what is read is what shows now."""
        return False

    @override
    def shelf(self, kind: str) -> tuple[EquipmentInfo, ...]:
        """Give the practice instruments of a kind; the colleague knows which battery is flat."""
        opening = shelf.opening_of(self.record())
        if opening is None:
            raise Stuck("This is no practice job")
        day: date = shop.local_day(self.clock.now())
        found = shelf.pieces_of_kind(opening, kind, day)
        return tuple(each for each in found if each.label != self.hidden.flat)


def _shop_of(info: PracticeInfo, pack: PackDefinition) -> Shop:
    """Give the practice job's own workshop, by the names that the answers use."""
    second, manager, desk = (each.id for each in shelf.COLLEAGUES)
    people = {TECHNICIAN: info.learner, SECOND: second, MANAGER: manager, DESK: desk}
    vehicle = Vehicle("", "", shelf.CUSTOMER.name, shelf.VIN, "")
    return Shop(
        pin=shelf.COLLEAGUE_PIN,
        people=people,
        names={},
        equipment={"D2": ""},
        vehicles={shelf.VIN: vehicle},
        spares={},
        packs={pack.slug: pack},
        revisions={pack.slug: str(info.revision)},
    )


def scene_of(
    info: PracticeInfo, hidden: Hidden, rig: Rig, *, grounds: Grounds, now: datetime
) -> PracticeScene:
    """Give a practice job as a scene.

    Parameters
    ----------
    info : PracticeInfo
        The practice job.
    hidden : Hidden
        Its vehicle.
    rig : Rig
        Its bench at this look.
    grounds : Grounds
        The shop's limits and zone.
    now : datetime
        The shop's time; the scene stands at the job's own.

    Returns
    -------
    PracticeScene
        At the job's time.
    """
    clock = FixedClock(now + timedelta(seconds=info.ahead_s))
    return PracticeScene(
        shop=_shop_of(info, rig.pack),
        job=info.job_id,
        recipe=hidden.recipe,
        clock=clock,
        bench=rig,
        grounds=grounds,
        hidden=hidden,
    )


def may_take(item: Item[Any]) -> bool:
    """Tell whether the colleague enters it at a tap: neither measured with leads, nor decided."""
    if item.key in MODES or item.key in _DECIDED or item.shape in _PICKED:
        return False
    return item.key in BOOK or item.shape not in {Shape.PHOTO, Shape.SAMPLE}


def _item(scene: Scene, key: str) -> Item[Any]:
    found = find_item(STEPS, scene.record(), key)
    if found is None:
        raise InputRefused(NOTHING_TO_TAKE(key))
    if not may_take(found[1]):
        raise InputRefused(OWN_WORK(key))
    return found[1]


def _answered(scene: Scene, item: Item[Any], qualifier: str) -> tuple[str, Json, timedelta]:
    """Give what the colleague enters, under which qualifier, and how long it took."""
    before = scene.clock.moment
    asked = replace(item, needed=True)
    try:
        raw = answer_of(BOOK, scene, asked, qualifier_parts(qualifier))
    except Stuck:
        raw = Pass.LEAVE
    if isinstance(raw, At):
        qualifier, raw = raw.qualifier, raw.raw
    if isinstance(raw, Pass):
        raise InputRefused(NOTHING_TO_TAKE(item.key, qualifier))
    return qualifier, raw, scene.clock.moment - before


def _told(item: Item[Any], raw: Json) -> Json:
    """Give what is read as a person would tell it."""
    if item.shape is Shape.CHOICE:
        return next((each.label for each in item.choices if each.value == raw), raw)
    if item.shape is Shape.DRAWN and isinstance(raw, Mapping):
        return raw["name"]
    if item.shape is Shape.QUOTATION:
        return [[each["text"], each["quantity"], each["unit"]] for each in raw["lines"]]
    return raw


def what_is_read(scene: Scene, key: str, qualifier: str) -> tuple[Json, timedelta]:
    """Give what a colleague or a plain instrument reads for a card, and how long that takes.

    Raises
    ------
    InputRefused
        Where the learner has to measure or decide it, or there is nothing to be read.
    """
    item = _item(scene, key)
    _, raw, took = _answered(scene, item, qualifier)
    return _told(item, raw), took


def _sent(scene: PracticeScene, item: Item[Any], qualifier: str, raw: Json, key: str) -> Sent:
    """Write the entry; what only the desk enters is entered by the simulated desk."""
    desk = bool(item.by) and "technician" not in item.by
    return Sent(
        key=key,
        job=scene.job,
        kind=Kind.VALUE,
        item=item.key,
        qualifier=qualifier,
        value=raw,
        person=scene.shop.people[DESK] if desk else "",
        pin=shelf.COLLEAGUE_PIN if desk else "",
        device="practice: taken",
    )


def take(
    scene: PracticeScene, *, item_key: str, qualifier: str, entry_key: str, now: datetime
) -> Answer:
    """Let the colleague read and enter what a card asks; the time it takes passes in this job.

    Parameters
    ----------
    scene : PracticeScene
        The practice job.
    item_key, qualifier : str
        The card.
    entry_key : str
        Identifier of the entry (UUID); sent again it is one entry.
    now : datetime
        The shop's time.

    Returns
    -------
    Answer
        The door's.

    Raises
    ------
    InputRefused
        Where the learner has to measure or decide it, or there is nothing to enter.
    """
    item = _item(scene, item_key)
    qualifier, raw, took = _answered(scene, item, qualifier)
    if took >= timedelta(seconds=1):
        let_time_pass(job_id=scene.job, step=took, now=now)
    learner = shop.person(scene.shop.people[TECHNICIAN])
    sent = _sent(scene, item, qualifier, raw, str(uuid.UUID(entry_key)))
    answer = door.post(sent, signed_on=learner, now=now)
    if answer.verdict == "applied":
        values = {"item": item.key, "qualifier": qualifier, "took_s": took.total_seconds()}
        note_act(job_id=scene.job, kind="taken", values=values, now=now)
    return answer
