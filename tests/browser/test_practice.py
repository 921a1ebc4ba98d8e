"""An apprentice on the tablet: begins a practice, reads by tapping poles, names the module."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Locator, Page, expect
from typing_extensions import override

from jobs.core.item import qualifier_parts
from jobs.practice.player import play
from jobs.practice.scene import Draft
from jobs.practice.tablet import Reply, Tablet
from jobs.queries.records import job_info
from jobs.steps.fault_localisation.assessment import assess
from jobs.steps.fault_localisation.items import LEAKING, READING
from jobs.steps.isolation_readings.items import PACK
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on, unfold
from tests.browser.test_screens import RULES, SIZES, measure
from tests.jobs.practice.learner import Learner, learner_of

LEARNER, SLUG, SEED = "Pell", "city-hatchback", "11"
LOOK_MS = 26_000
MARK = "PRACTICE: simulated vehicle"
FEWEST = 5
"""Four readings at the closed pack, and one with links open that confirms."""
POLES = {PACK.reading.key, READING.key}


def begun(page: Page, floor: Floor) -> str:
    """Sign on, reach Practice through the menu and begin one; give its job."""
    sign_on(page, LEARNER, floor.shop.pin)
    page.locator(".bar-more > summary").click()
    page.get_by_role("link", name="Practice").click()
    page.get_by_label("Kind of pack").select_option(SLUG)
    page.get_by_label("Fault").select_option("hard_leak")
    page.get_by_label("Number of a vehicle").fill(SEED)
    page.get_by_role("button", name="Begin", exact=True).click()
    expect(page.locator(".practice-mark")).to_have_text(MARK)
    found = re.search(r"/jobs/([0-9a-f-]{36})/intake/", page.url)
    assert found is not None
    return found[1]


def card_of(page: Page, item: str, qualifier: str) -> Locator:
    """Give the card of an item; one whose qualifier is chosen has one card for all."""
    exact = page.locator(f'.card:has(form[data-item="{item}"][data-qualifier="{qualifier}"])')
    return exact if exact.count() else page.locator(f'.card:has(form[data-item="{item}"])').first


@dataclass
class OnTheScreen(Learner):
    """A learner who reads poles at the tablet, and does the rest as `Learner` does."""

    page: Page = field(kw_only=True)
    read_here: int = field(default=0, kw_only=True)
    broken: list[str] = field(default_factory=list, kw_only=True)
    shot: Callable[[str], None] = field(kw_only=True)

    @override
    def send(self, draft: Draft, key: str = "") -> Reply:
        if draft.item not in POLES:
            return super().send(draft, key)
        self.read_here += 1
        self.type_in(draft.item, draft.qualifier)
        info = job_info(self.job)
        return Reply(200, "applied", head="" if info is None else info.head)

    def type_in(self, item: str, qualifier: str) -> None:
        """Tap the pole, wait until the display stands still, type what it shows, enter it."""
        slug, page = item.partition(".")[0], self.page
        # The clock of the floor has gone on since: whoever idles signs on again.
        sign_on(page, LEARNER, self.own_pin)
        page.goto(f"/jobs/{self.job}/{slug}/")
        leads = self.leads(item, qualifier)
        card = card_of(page, item, qualifier)
        unfold(card.locator("form[data-item]"))
        card.get_by_role("button", name="Instrument").click()
        if leads["shunt"]:
            card.locator("[data-shunt]").click()
        card.locator(f'[data-place="{leads["red"]}"]').click()
        card.locator('[data-place="enclosure"]').click()
        display = card.locator("[data-display]")
        expect(display).not_to_have_text("– – –")
        page.clock.run_for(LOOK_MS)
        shown = display.inner_text()
        self.shot(f"reading {self.read_here}")
        self.broken = self.broken or (rules_kept(page) if self.read_here in {1, 5} else [])
        self.choose(card, qualifier)
        card.locator('form[data-item] input[name="value"]').fill(shown)
        entries = len(self.record().entries)
        with page.expect_response("**/entries/"):
            card.get_by_role("button", name="Enter reading").click()
        page.clock.run_for(2000)
        assert len(self.record().entries) == entries + 1

    def choose(self, card: Locator, qualifier: str) -> None:
        """Say on the card which pole it was, where the card asks."""
        for name, value in qualifier_parts(qualifier).items():
            box = card.locator(f'form[data-item] [data-part="{name}"]')
            if box.count():
                box.select_option(value)


def at_tablet(page: Page, floor: Floor, job: str, shot: Callable[[str], None]) -> OnTheScreen:
    """Give the learner's hands in a job that was begun on the page."""
    tablet = Tablet(floor.shop.people[LEARNER], floor.shop.pin)
    tablet.sign_on()
    plain = learner_of(floor.shop, LEARNER, tablet, job, SLUG, floor.clock)
    kept: dict[str, Any] = {
        name: getattr(plain, name)
        for name in ("shop", "job", "recipe", "clock", "bench", "grounds", "own_pin", "tablets")
    }
    return OnTheScreen(**kept, page=page, shot=shot)


def rules_kept(page: Page) -> list[str]:
    """Name the rules of accessibility that the page breaks, and what does not fit."""
    # The checker fetches no style sheets again: the page forbids what it does with them.
    options = {**RULES, "preload": False}
    broken = Axe().run(page, options=options).response["violations"]
    found = [f"{each['id']}: {each['nodes'][0]['html']}" for each in broken]
    for size in (*SIZES, "lying"):
        found += [f"{size}: {each}" for each in measure(page, size)]
    return found


def test_a_learner_begins_reads_with_leads_and_names_the_module(
    context_at: Callable[..., BrowserContext],
    floor: Floor,
    complaints: Complaints,
    pictures: Path | None,
) -> None:
    page = context_at(floor.address).new_page()
    page.clock.install()

    def shot(name: str) -> None:
        if pictures is not None:
            pictures.mkdir(parents=True, exist_ok=True)
            page.screenshot(path=pictures / f"practice-{name.replace(' ', '-')}.png")

    job = begun(page, floor)
    hands = at_tablet(page, floor, job, shot)
    play(hands, until=LEAKING.key)
    record = hands.record()
    named = assess(record).search.named
    assert hands.broken == []
    assert hands.read_here >= FEWEST
    sign_on(page, LEARNER, floor.shop.pin)
    hands.enter(LEAKING, raw=True, at=f"module={named[0]}")
    page.goto(f"/jobs/{job}/fault_localisation/")
    shot("named")
    page.locator(".practice-tools summary").click()
    page.get_by_role("button", name="Give up and see what it was").click()
    expect(page.locator("h1")).to_contain_text("How it went")
    expect(page.locator("main")).to_contain_text(f"Right: module {named[0]} named.")
    expect(page.locator("main")).not_to_contain_text("Typed otherwise than shown")
    assert rules_kept(page) == []
    shot("result")
    page.goto("/jobs/")
    expect(page.locator("main")).not_to_contain_text("PRACTICE")
    assert complaints == []


def test_the_colleague_takes_what_is_only_typing(
    context_at: Callable[..., BrowserContext], floor: Floor, complaints: Complaints
) -> None:
    page = context_at(floor.address).new_page()
    begun(page, floor)
    card = card_of(page, "intake.odometer_km", "")
    card.get_by_role("button", name="Read it").click()
    expect(card.locator("[data-practice-said]")).not_to_be_empty()
    card.get_by_role("button", name="Let the colleague take it").click()
    expect(page.locator("form[data-item='intake.odometer_km']")).to_have_count(0)
    assert complaints == []
