"""An apprentice looks into the open pack and holds the tools of the later steps, by tapping."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, expect

from jobs.practice.answers import BOOK
from jobs.practice.player import play
from jobs.practice.tablet import Tablet
from jobs.steps.fault_localisation.items import LEAKING, SEEN
from jobs.steps.module_swap.items import LINKS, SPARES
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on, unfold
from tests.browser.test_practice import LEARNER, SLUG, begun, rules_kept
from tests.jobs.practice.learner import Learner, learner_of, pick_spare

TARGET_PX = 48


def opened(page: Page, hands: Learner, item: str, button: str) -> Locator:
    """Go to a card and press the button beside it."""
    sign_on(page, LEARNER, hands.own_pin)
    page.goto(f"/jobs/{hands.job}/{item.partition('.')[0]}/")
    card = page.locator(f'.card:has(form[data-item="{item}"])').first
    unfold(card.locator("form[data-item]").first)
    card.get_by_role("button", name=button, exact=True).first.click()
    expect(card.locator(".bench")).to_be_visible()
    return card


def small(card: Locator) -> list[str]:
    """Name what can be tapped and is smaller than a gloved finger needs."""
    found = []
    for each in card.locator(".bench button").all():
        box = each.bounding_box()
        if box is None or min(box["width"], box["height"]) < TARGET_PX:
            found.append(f"{each.inner_text()} {box}")
    return found


@pytest.fixture
def shot(pictures: Path | None) -> Callable[[str, Locator], None]:
    """Give what leaves a picture of a card."""

    def taken(name: str, card: Locator) -> None:
        if pictures is not None:
            pictures.mkdir(parents=True, exist_ok=True)
            card.locator(".bench").scroll_into_view_if_needed()
            card.page.screenshot(path=pictures / f"practice-tools-{name}.png")

    return taken


def hands_of(page: Page, floor: Floor) -> Learner:
    """Begin a practice on the page and give the learner's hands in it."""
    job = begun(page, floor)
    tablet = Tablet(floor.shop.people[LEARNER], floor.shop.pin)
    tablet.sign_on()
    return learner_of(floor.shop, LEARNER, tablet, job, SLUG, floor.clock)


def test_the_open_pack_is_drawn_and_looked_at_closely(
    context_at: Callable[..., BrowserContext],
    floor: Floor,
    complaints: Complaints,
    shot: Callable[[str, Locator], None],
) -> None:
    page = context_at(floor.address).new_page()
    hands = hands_of(page, floor)
    play(hands, until=LEAKING.key)
    card = opened(page, hands, SEEN.key, "Look")
    expect(card.locator(".bench svg title")).to_have_text("What is seen in the open pack")
    card.locator('[data-place="M1"]').click()
    expect(card.locator("[data-said]")).to_contain_text("odule M1")
    assert small(card) == []
    shot("seen", card)
    assert rules_kept(page) == []
    assert complaints == []


def test_later_tools_are_held_by_tapping(
    context_at: Callable[..., BrowserContext],
    floor: Floor,
    complaints: Complaints,
    shot: Callable[[str, Locator], None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(BOOK, SPARES.spare.key, pick_spare)
    page = context_at(floor.address).new_page()
    hands = hands_of(page, floor)
    play(hands, until=SPARES.cell_v.key)
    card = opened(page, hands, SPARES.cell_v.key, "Instrument")
    card.locator('[data-place="end:pos"]').click()
    card.locator('[data-place="end:neg"]').click()
    expect(card.locator("[data-display]")).to_contain_text("3.")
    shot("cell", card)
    play(hands, until=LINKS.drops.key)
    card = opened(page, hands, LINKS.drops.key, "Instrument")
    card.locator("[data-place]").first.click()
    expect(card.locator("[data-display]")).not_to_have_text("– – –")
    expect(card.get_by_role("button", name="Let the colleague take it")).to_be_visible()
    assert small(card) == []
    shot("joints", card)
    assert rules_kept(page) == []
    assert complaints == []
