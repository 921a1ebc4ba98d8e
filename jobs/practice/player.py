"""Plays a job: asks the open step what it wants, answers, passes hold points, proves, signs.

It knows no step by heart: items, hold points and refusals come from the record, answers from the
book. Not here: what is answered (`answers`), what goes wrong on purpose (`mishaps`).
"""

import uuid
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from jobs.actions.booking import Booking, book_job
from jobs.core.entry import Json, Kind
from jobs.core.item import Item, Shape, qualifier_parts
from jobs.core.order import hold_passed, holds_of, items_of
from jobs.core.record import Record
from jobs.core.step import Hold, Step
from jobs.practice.answers import BOOK
from jobs.practice.bench import Bench
from jobs.practice.book import At, Pass, answer_of, said, who
from jobs.practice.pen import signature_of
from jobs.practice.scenario import Recipe
from jobs.practice.scene import DESK, MANAGER, TECHNICIAN, Draft, Scene, Stuck
from jobs.practice.shop import Shop
from jobs.queries.records import grounds_in_force
from jobs.steps import STEPS
from jobs.steps.de_energise_check.items import round_now
from packs import actions as packs
from workshop import clock as shop_clock
from workshop import queries as shop_queries
from workshop.clock import FixedClock

__all__ = [
    "advance",
    "book_in",
    "close",
    "pass_hold",
    "play",
    "play_step",
    "prove",
    "sign",
]


class Stopped(Exception):
    """The item at which the scene was to stop is what would be entered next."""


MOST_ACTS = 600
"""Acts after which a step that is still not signed counts as stuck."""


def book_in(
    shop: Shop, recipe: Recipe, clock: FixedClock, *, promised_days: int = 3, arrives_days: int = 0
) -> Scene:
    """Book the recipe's vehicle in and give the scene in which its job is played.

    Parameters
    ----------
    shop : Shop
        The workshop.
    recipe : Recipe
        The job.
    clock : FixedClock
        The clock that hangs in the workshop.
    promised_days, arrives_days : int
        Days from today.

    Returns
    -------
    Scene
        At the beginning of intake.
    """
    vehicle, today = shop.vehicles[recipe.plate], shop_queries.local_day(clock.now())
    pack = packs.add_physical_pack(
        serial=f"P-{vehicle.vin[-6:]}", by=uuid.UUID(shop.people[DESK]), now=clock.now()
    )
    booking = Booking(
        key=str(uuid.uuid5(uuid.UUID(vehicle.id), recipe.slug)),
        customer_id=vehicle.customer_id,
        vehicle_id=vehicle.id,
        pack_id=str(pack.id),
        arrives_on=today + timedelta(days=arrives_days),
        promised_on=today + timedelta(days=promised_days),
    )
    job = book_job(booking=booking, by=shop.people[DESK], now=shop_clock.now())
    bench = Bench(recipe, shop.packs[recipe.pack])
    return Scene(
        shop=shop, job=job, recipe=recipe, clock=clock, bench=bench, grounds=grounds_in_force()
    )


def _wanted(item: Item[Any], record: Record) -> Iterator[str]:
    """Name what is still to be entered for an item; an empty qualifier where the book chooses."""
    given = {entry.qualifier for entry in record.live.get(item.key, ())}
    asked = dict.fromkeys((*item.expected, *item.offered))
    if item.many == "each" and asked:
        yield from (qualifier for qualifier in asked if qualifier not in given)
    elif item.many == "each" or item.shape is Shape.SAMPLE or not given:
        yield ""


def _open_holds(step: Step[Any], record: Record) -> dict[str, Hold]:
    """Give the hold points that are not passed, by name."""
    holds = holds_of(step, record)
    return {hold.slug: hold for hold in holds if not hold_passed(record, step, hold)}


def _matters(scene: Scene, item: Item[Any]) -> bool:
    return item.needed or item.key in BOOK or said(scene, item) is not None


def _in_order(step: Step[Any], record: Record) -> tuple[Item[Any], ...]:
    """Give the items in the order of the work: a second person who signs last comes last."""
    items, last = items_of(step, record), step.signers.second
    if not step.signers.second_last or last is None:
        return items
    return (*(i for i in items if i.key != last.key), *(i for i in items if i.key == last.key))


def _mishap(scene: Scene, name: str) -> bool:
    """Let something go wrong on purpose, once; tell whether it did."""
    happens = scene.mishaps.pop(name, None)
    if happens is None:
        return False
    happens(scene)
    return True


def pass_hold(scene: Scene, step: Step[Any], hold: Hold) -> None:
    """Pass a hold point."""
    value = {"step": step.slug, "hold": hold.slug}
    scene.do(Draft(kind=Kind.HOLD, by=TECHNICIAN, value=value))


def _answer(scene: Scene, item: Item[Any], qualifier: str) -> Json:
    return answer_of(BOOK, scene, item, qualifier_parts(qualifier))


def _ready(scene: Scene, record: Record, hold: Hold, item: Item[Any], wanted: list[str]) -> bool:
    """Tell whether a hold point is to be passed: its needs are there, and the item is wanted."""
    if not all(record.has(need) for need in hold.needs):
        return False
    return any(not isinstance(_answer(scene, item, each), Pass) for each in wanted)


def _try(scene: Scene, item: Item[Any], qualifier: str) -> bool:
    """Answer one thing; tell whether anything was done."""
    if _mishap(scene, item.key):
        return True
    raw = _answer(scene, item, qualifier)
    if isinstance(raw, Pass):
        return False
    if item.needs_proof and not scene.record().proof_holds():
        renew_proof(scene)
        return True
    if isinstance(raw, At):
        qualifier, raw = raw.qualifier, raw.raw
    by, at = who(item)
    draft = Draft(kind=Kind.VALUE, by=by, at=at, item=item.key, qualifier=qualifier, value=raw)
    scene.do(draft)
    return True


def advance(scene: Scene, step: Step[Any], *, anytime: bool = False) -> bool:
    """Do the next thing that a step asks; tell whether there was one.

    Parameters
    ----------
    scene : Scene
        The job.
    step : Step
        The open step, or the one whose items may be entered at any time.
    anytime : bool
        Whether only items are meant that may be entered whatever step is open.

    Returns
    -------
    bool
        False when nothing more can be entered.
    """
    record = scene.record()
    holds = _open_holds(step, record)
    for item in _in_order(step, record):
        if (anytime and not item.anytime) or not _matters(scene, item):
            continue
        wanted = list(_wanted(item, record))
        hold = holds.get(item.hold) if wanted else None
        if wanted and item.key == scene.stop:
            raise Stopped
        if hold is not None:
            if not _ready(scene, record, hold, item, wanted):
                continue
            if not _mishap(scene, f"hold {step.slug} {hold.slug}"):
                pass_hold(scene, step, hold)
            return True
        if any(_try(scene, item, qualifier) for qualifier in wanted):
            return True
    return False


def prove(scene: Scene) -> None:
    """Write the proof of absence of voltage of the round that was read."""
    value = {"round": round_now(scene.record())}
    scene.do(Draft(kind=Kind.PROOF, by=TECHNICIAN, value=value))


def renew_proof(scene: Scene) -> None:
    """Prove the circuit dead again, both people, whatever step is open."""
    step = next(step for step in STEPS if step.prove is not None)
    _exhaust(scene, step, anytime=True)
    prove(scene)


def _exhaust(scene: Scene, step: Step[Any], *, anytime: bool = False) -> None:
    for _ in range(MOST_ACTS):
        if not advance(scene, step, anytime=anytime):
            return
    raise Stuck(f"{step.title} asks without end")


def sign(scene: Scene, step: Step[Any]) -> None:
    """Sign a step: as done, or as not needed where it does not apply."""
    skipped = step.skip(scene.record()) is not None
    value = {"step": step.slug, "outcome": "not_needed" if skipped else "done"}
    by = MANAGER if step.signers.qualification == "release" else TECHNICIAN
    scene.do(Draft(kind=Kind.SIGN, by=by, value=value))


def _choose_pack(scene: Scene, step: Step[Any]) -> None:
    if step.prove is None or scene.record().pack is not None:
        return
    value = {"revision": scene.shop.revisions[scene.recipe.pack]}
    scene.do(Draft(kind=Kind.REVISION, by=TECHNICIAN, value=value))


def play_step(scene: Scene, step: Step[Any]) -> None:
    """Play the open step to its signature."""
    _choose_pack(scene, step)
    if step.skip(scene.record()) is None:
        _exhaust(scene, step)
        if step.prove is not None and not scene.record().proof_holds():
            if _mishap(scene, "proof"):
                _exhaust(scene, step)
            prove(scene)
    if _mishap(scene, f"sign {step.slug}"):
        _exhaust(scene, step)
    sign(scene, step)


def close(scene: Scene) -> None:
    """Hand over what was brought, which closes the job."""
    name = scene.shop.vehicles[scene.recipe.plate].customer
    scene.do(Draft(kind=Kind.CLOSE, by=DESK, value={"received_by": signature_of(name)}))


def play(scene: Scene, *, until: str = "", closing: bool = True) -> None:
    """Play a job step by step.

    Parameters
    ----------
    scene : Scene
        The job.
    until : str
        Slug of the step, or key of the item, before which to stop; empty for none.
    closing : bool
        Whether the job is handed over once no step is open.

    Raises
    ------
    Stuck
        Where the door refuses what has to be taken.
    """
    scene.stop = until
    try:
        while (step := scene.open_step()) is not None and step.slug != until:
            play_step(scene, step)
    except Stopped:
        return
    if step is None and closing:
        close(scene)
