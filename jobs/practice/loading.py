"""The invented workshop to look around in: jobs in every state, as if played until just now."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from jobs.practice.desk_day import write_desk
from jobs.practice.player import book_in, play
from jobs.practice.scenario import recipe, scenario
from jobs.practice.scene import Stuck
from jobs.practice.shop import Shop, open_shop
from jobs.practice.tablet import Straight
from jobs.practice.watching import keep_watch
from workshop import clock as shop_clock

__all__ = ["LOADED", "Loaded", "load", "load_jobs"]

Write = Callable[[str], object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """A job to load: when it began, how far it got, and what the list says of it.

    Attributes
    ----------
    recipe : str
        The job.
    hours_ago : float
        When it was booked in [h].
    until : str
        Step or item before which it stopped; empty for none.
    closing : bool
        Whether it was handed over.
    refused : str
        Reason with which its last act was refused; empty where none was.
    arrives_days, promised_days : int
        Days from the booking.
    unwatched_h : float
        For how long nobody has checked the removed modules [h].
    """

    recipe: str
    hours_ago: float
    until: str = ""
    closing: bool = True
    refused: str = ""
    arrives_days: int = 0
    promised_days: int = 3
    unwatched_h: float = 0.0


LOADED: Final = (
    Loaded(recipe="minibus-module", hours_ago=220.0, promised_days=4),
    Loaded(recipe="hatchback-charger", hours_ago=27.0, closing=False, promised_days=1),
    Loaded(recipe="hatchback-heater", hours_ago=5.0, until="road_test", promised_days=1),
    Loaded(recipe="van-coolant", hours_ago=2.0, until="fault_localisation.link_opened"),
    Loaded(recipe="minibus-gloves", hours_ago=1.0, refused="live_gloves_lapsed"),
    Loaded(recipe="van-harness", hours_ago=0.2, until="intake", arrives_days=1),
    # Its removed module stands in quarantine since five hours, so that a check is due just now.
    Loaded(recipe="hatchback-module", hours_ago=5.93, until="reassembly", unwatched_h=0.5),
    # Amid its seal test, five samples taken; and one with the tie bolts of its spare half done.
    Loaded(recipe="van-seal", hours_ago=2.0, until="seal_test.samples"),
    Loaded(recipe="van-swap", hours_ago=3.7, until="module_swap.gap_mm", unwatched_h=0.3),
    # Its quotation is written; the customer has not answered.
    Loaded(recipe="hatchback-waits", hours_ago=3.0, until="fault_localisation.quote_how"),
    # Its spare was brought up to the string's charge, rested and fitted; the lid is still off.
    Loaded(recipe="hatchback-charge", hours_ago=7.6, until="reassembly", unwatched_h=0.3),
    # Two that ended without a repair: declined once it was known what leaks, and never found.
    Loaded(recipe="hatchback-declined", hours_ago=150.0, promised_days=2),
    Loaded(recipe="minibus-not-found", hours_ago=120.0, promised_days=3),
)
"""The jobs of the invented workshop, in the order in which they are numbered."""


def load_jobs(shop: Shop, now: datetime, jobs: tuple[Loaded, ...] = LOADED) -> dict[str, str]:
    """Play jobs in the past, each to where it stands.

    Parameters
    ----------
    shop : Shop
        The workshop as entered.
    now : datetime
        The moment from which the hours count.
    jobs : tuple[Loaded, ...]
        Which jobs.

    Returns
    -------
    dict[str, str]
        Identifier of each job by its recipe.

    Raises
    ------
    Stuck
        Where a job does not get as far as it should, or is not refused where it should be.
    """
    found = {}
    for each in jobs:
        with shop_clock.use_fixed(now - timedelta(hours=each.hours_ago)) as clock:
            scene = book_in(
                shop,
                recipe(each.recipe),
                clock,
                promised_days=each.promised_days,
                arrives_days=each.arrives_days,
            )
            scene.hand = Straight
            refused: frozenset[str] = frozenset()
            try:
                play(scene, until=each.until, closing=each.closing)
            except Stuck as stuck:
                if stuck.reply is None or each.refused not in stuck.reply.codes:
                    raise
                refused = stuck.reply.codes
            if each.refused and each.refused not in refused:
                raise Stuck(f"{each.recipe} has to be refused: {each.refused}")
            keep_watch(scene, until=now - timedelta(hours=each.unwatched_h))
            found[each.recipe] = scene.job
    return found


def load(write: Write) -> None:
    """Enter the workshop and play its jobs; the clock stands right again afterwards."""
    now = shop_clock.now()
    shop = open_shop(scenario(), now=now)
    jobs = load_jobs(shop, now)
    write_desk(shop, jobs, now)
    write(f"Loaded {len(shop.people)} people and {len(jobs)} jobs. Every PIN is {shop.pin}.")
