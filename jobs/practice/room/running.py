"""A practice job put together from its row: its vehicle, its bench at this look, its scene."""

import secrets
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from jobs.actions.practice import NewPractice, begin_practice, note_act
from jobs.core.reason import InputRefused, Reason
from jobs.practice.room.colleague import PracticeScene, scene_of
from jobs.practice.room.faults import SEED_LIMIT, Hidden, draw_fault, hidden
from jobs.practice.room.gauging import TOOLS, gauge_at
from jobs.practice.room.looking import Look, Shown, look_at
from jobs.practice.room.rig import Rig
from jobs.queries.practice import PracticeInfo, acts_of
from jobs.queries.records import grounds_in_force
from packs import queries as packs
from packs.errors import Refused as PackRefused

__all__ = ["REASONS", "Running", "begin", "look", "running"]

NO_PACK = Reason("practice_pack", "Choose a kind of pack.")
NO_PARTS = Reason("practice_parts", "This pack's definition names no parts of the vehicle.")
BAD_SEED = Reason("practice_seed", "The number of a vehicle has one to six digits.")
REASONS = (NO_PACK, NO_PARTS, BAD_SEED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """A practice job with everything that is simulated around it."""

    info: PracticeInfo
    hidden: Hidden
    rig: Rig
    scene: PracticeScene


def running(info: PracticeInfo, *, now: datetime) -> Running:
    """Put a practice job together as of the shop's time."""
    pack = packs.revision(info.revision).definition
    vehicle = hidden(info.seed, info.fault, pack)
    rig = Rig(vehicle.recipe, pack, hidden=vehicle, look=len(acts_of(info.job_id)))
    scene = scene_of(info, vehicle, rig, grounds=grounds_in_force(), now=now)
    return Running(info=info, hidden=vehicle, rig=rig, scene=scene)


def _seed(typed: str) -> int:
    """Give the number of a vehicle: as typed, or drawn once."""
    text = typed.strip()
    if not text:
        return secrets.randbelow(SEED_LIMIT)
    if not (text.isascii() and text.isdecimal() and int(text) < SEED_LIMIT):
        raise InputRefused(BAD_SEED("seed"))
    return int(text)


def begin(*, key: str, slug: str, asked: str, seed: str, by: str, now: datetime) -> str:
    """Begin a practice job.

    Parameters
    ----------
    key : str
        Identifier (UUID); the same one twice is one job.
    slug : str
        Kind of pack, a published definition.
    asked : str
        Kind of fault, difficulty, or empty for anything.
    seed : str
        Number of a vehicle as typed; empty draws one.
    by : str
        The learner.
    now : datetime
        The shop's time.

    Returns
    -------
    str
        The job's identifier.

    Raises
    ------
    InputRefused
        Without a pack, for a number that is none, or a fault that this pack cannot have.
    """
    try:
        revision = packs.latest_revision(slug)
    except PackRefused:
        raise InputRefused(NO_PACK("slug")) from None
    number = _seed(seed)
    fault = draw_fault(number, asked)
    if fault == "vehicle_part" and not revision.definition.vehicle_parts:
        raise InputRefused(NO_PARTS("asked"))
    vehicle = hidden(number, fault, revision.definition)
    new = NewPractice(
        key=str(UUID(key)),
        revision=revision.id,
        seed=number,
        asked=asked,
        fault=fault,
        bench=vehicle.bench_words(),
    )
    return begin_practice(new=new, by=by, now=now)


def look(run: Running, asked: Look, *, now: datetime) -> Shown:
    """Look at an instrument, and write down where its leads were and what it showed."""
    if asked.item in TOOLS:
        shown = gauge_at(run.scene, asked)
    else:
        shown = look_at(run.scene, run.rig, asked)
    values = {
        "item": asked.item,
        "qualifier": asked.qualifier,
        "red": asked.red,
        "black": asked.black,
        "shunt": asked.shunt,
        "unplugged": asked.unplugged,
        "open": list(run.rig.links_open(run.scene.record())),
        "shown": [text for _, text in shown.frames],
        "danger": shown.danger,
    }
    note_act(job_id=run.info.job_id, kind="looked", values=values, now=now)
    return shown
