"""What the invented desk wrote down: places and keys, calls, a note to the next shift.

Each row goes through the action a person uses, at a time between the job's booking and now.
"""

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from jobs.actions import desk as acts
from jobs.core.desk import ASKED, NOTE
from jobs.practice.scene import DESK
from jobs.practice.shop import Shop
from jobs.queries.desk import keys_kept
from workshop import clock as shop_clock
from workshop import queries

__all__ = ["write_desk"]

_SPACE: Final = uuid.UUID("6f0a7f0e-64d3-4c1c-9f4e-9f6a33b8a001")


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a job's vehicle and keys are, whose job it is, who pays."""

    place: str
    spot: str
    hook: str
    assigned: str = ""
    facts: tuple[tuple[str, str], ...] = ()


PLACED: Final = {
    "van-coolant": Placed("bay", "bay 2", "4", "Aster"),
    "hatchback-heater": Placed("bay", "bay 1", "7", "Munk"),
    "hatchback-charger": Placed("yard", "row 1, by the gate", "2", "Munk",
                                (("payer", "customer"), ("warranty", "none"))),
    "hatchback-module": Placed("bay", "bay 4", "9", "Aster"),
    "hatchback-waits": Placed("yard", "row 3", "11", "",
                              (("payer", "insurer"), ("insurer", "Quayside Mutual"),
                               ("claim", "QM-20771"))),
    "van-seal": Placed("bay", "bay 3", "5", "Munk"),
    "minibus-gloves": Placed("bay", "bay 5", "1", "Aster",
                             (("payer", "maker"), ("warranty", "maker"), ("recall", "R-114"))),
}  # fmt: skip
"""By recipe."""
CALLED: Final = (
    ("hatchback-waits", "we", "Sent the quotation; she wants to talk to her insurer first.", 0,
     "Answer to the quotation"),
    ("hatchback-heater", "they", "Asked whether it will be ready for Saturday.", 1, ""),
)  # fmt: skip
"""Recipe, who called, what was said, days until the next call, and about what."""
ASKS: Final = (("hatchback-heater", "Can the old heater be shown at hand-over?"),)
NOTES: Final = (
    ("", "The gate at the quarantine place sticks. Lift it while you push."),
    ("van-coolant", "Coolant under the pack was wiped at noon. Look again before the next link."),
)
"""Notes to the next shift: recipe, or empty for everybody, and what it says."""


def _key(*words: str) -> str:
    return str(uuid.uuid5(_SPACE, "/".join(words)))


def _place(shop: Shop, slug: str, job: str, now: datetime) -> None:
    """Write where a vehicle and its keys are, whose job it is, and who pays."""
    by, placed = shop.people[DESK], PLACED[slug]
    where = {"place": placed.place, "spot": placed.spot}
    if keys_kept(job, now) is None:
        where["hook"] = placed.hook
    acts.move(job_id=job, key=_key(slug, job, "move"), where=where, by=by, now=now)
    if placed.assigned:
        key, person = _key(slug, job, "assign"), shop.people[placed.assigned]
        acts.assign(job_id=job, key=key, person_id=person, by=by, now=now)
    if placed.facts:
        facts = dict(placed.facts)
        acts.set_facts(job_id=job, key=_key(slug, job, "facts"), facts=facts, by=by, now=now)


def write_desk(shop: Shop, jobs: dict[str, str], now: datetime) -> None:
    """Write down what the desk did in the last hour, for the jobs that there are.

    Parameters
    ----------
    shop : Shop
        The invented workshop.
    jobs : dict[str, str]
        Identifier of each job by its recipe.
    now : datetime
        The present.
    """
    by, day = shop.people[DESK], queries.local_day(now)
    with shop_clock.use_fixed(now - timedelta(minutes=9)) as clock:
        at = clock.now()
        for slug in PLACED.keys() & jobs.keys():
            _place(shop, slug, jobs[slug], at)
        for slug, way, text, days, about in CALLED:
            if slug in jobs:
                call = acts.Call(
                    way=way, text=text, next_on=day + timedelta(days=days), next_about=about
                )
                key = _key(slug, jobs[slug], "call")
                acts.log_call(job_id=jobs[slug], key=key, call=call, by=by, now=at)
        for slug, text in ASKS:
            if slug in jobs:
                key = _key(slug, jobs[slug], "ask")
                acts.write_note(
                    job_id=jobs[slug], key=key, kind=ASKED, text=text, by=by, now=at
                )  # fmt: skip
        for slug, text in NOTES:
            if not slug or slug in jobs:
                job = jobs.get(slug, "")
                key, who = _key(slug, job, "note"), shop.people["Munk"]
                acts.write_note(job_id=job, key=key, kind=NOTE, text=text, by=who, now=at)
