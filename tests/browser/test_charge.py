"""A spare is brought to the string's charge: plan, readings against it, stop, rest, read again."""

from datetime import timedelta

from playwright.sync_api import Page, expect

from jobs.practice.scene import Scene
from jobs.steps.module_swap.items import SLUG, SPARES
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on, unfold
from tests.browser.test_measuring import go
from tests.browser.test_technician import TECHNICIAN, form_of, start

START_V, AHEAD_V, STOP_V = "22.1", "21.5", "21.20"
"""What the terminals show: at the start, too low too early, and below where to stop [V]."""


def enter(page: Page, item: str, typed: str) -> None:
    """Type a figure into an item's form and wait until the page has it."""
    form = form_of(page, item).first
    head = page.locator("[data-head]").get_attribute("data-head") or ""
    unfold(form)
    form.locator("[name=value]").fill(typed)
    form.locator("button[type=submit]").click()
    expect(page.locator(f'[data-head="{head}"]')).to_have_count(0)


def press(page: Page, item: str, value: str = "") -> None:
    """Press an item's one button, or that of an answer, and wait until the page has it."""
    form = form_of(page, item).first
    head = page.locator("[data-head]").get_attribute("data-head") or ""
    unfold(form)
    form.locator(f'button[value="{value}"]' if value else "button[type=submit]").click()
    expect(page.locator(f'[data-head="{head}"]')).to_have_count(0)


def wait(page: Page, floor: Floor, scene: Scene, **time: float) -> None:
    """Let time pass in the workshop, and come back to the tablet."""
    floor.clock.advance(timedelta(**time))
    sign_on(page, TECHNICIAN, floor.shop.pin)
    go(page, scene, SLUG)


def stop_of(page: Page) -> str:
    """Read from the figures where to stop [V]."""
    line = page.locator("#panel .facts div", has_text="Stop at, current flowing")
    return line.locator("dd").inner_text().split()[0]


def plan_by_resistor(page: Page) -> None:
    """Read a spare that stands higher than the string, and plan its discharge."""
    expect(form_of(page, SPARES.means.key)).to_have_count(0)
    enter(page, SPARES.cell_v.key, "3.690")
    expect(page.locator("#panel")).to_contain_text("charge has to be moved. Say what moves it")
    press(page, SPARES.means.key, "resistor")
    enter(page, SPARES.means_w.key, "300")
    # Cautions first: without them no current is read.
    expect(form_of(page, SPARES.watch_v.key)).to_have_count(0)
    press(page, SPARES.safe.key)


def rest_and_read_again(page: Page, floor: Floor, scene: Scene) -> None:
    """Switch off; until the spare has rested its voltage is not taken."""
    counted = page.locator("#panel .count")
    press(page, SPARES.off.key)
    expect(counted).to_contain_text("Spare for M9 rests for")
    expect(form_of(page, SPARES.again_v.key)).to_have_count(0)
    wait(page, floor, scene, hours=3, minutes=1)
    expect(counted).to_contain_text("has rested: read its voltage")
    enter(page, SPARES.again_v.key, "3.556")
    apart = page.locator("#panel .facts div", has_text="Rested cell voltage of the spare for M9")
    expect(apart.locator("dd")).to_contain_text("1 mV (")


def test_charge_is_watched_against_the_plan_stopped_rested_and_read_again(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = start(page, floor, "van-swap", SPARES.cell_v.key)
    wait(page, floor, scene, hours=4)
    run = page.locator("#panel figure svg", has_text="stop here, current flowing")
    warning = page.locator("#panel .warning").first
    plan_by_resistor(page)
    expect(run.locator("title")).to_have_text("Plan for the spare for M9")
    enter(page, SPARES.watch_v.key, START_V)
    stop_v = stop_of(page)
    expect(warning).to_contain_text("Stay with it")
    expect(run.locator("title")).to_have_text("Moving charge in the spare for M9")
    expect(page.locator("#panel .count")).to_contain_text(f"M9: stop at {stop_v} V, expected in")
    wait(page, floor, scene, minutes=20)
    enter(page, SPARES.watch_v.key, AHEAD_V)
    expect(warning).to_contain_text("the voltage runs ahead of the plan")
    wait(page, floor, scene, minutes=20)
    enter(page, SPARES.watch_v.key, STOP_V)
    expect(warning).to_contain_text(f"stop now. {STOP_V} V at the terminals")
    expect(warning).to_contain_text(f"planned was {stop_v} V")
    expect(run).to_contain_text("stop now")
    rest_and_read_again(page, floor, scene)
    assert complaints == []
