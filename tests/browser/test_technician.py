"""A technician's day in gloves, through the screens: readings, bolts, paper, quarantine."""

import re
from collections.abc import Callable
from datetime import timedelta

from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from jobs.practice.scene import Scene
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on
from tests.browser.stopwatch import Stopwatch

TECHNICIAN, SECOND = "Aster", "Munk"
MOST_ACTS_TO_READ, MOST_ACTS_TO_HAND_ON = 4, 3
STROKES = """() => {
  const pad = document.querySelector('form[data-item="intake.authority"] [name=strokes]');
  return JSON.parse(pad.value || "[]").length;
}"""
POLL_MS = 15_000
"""Within what another tablet's entry is to be seen [ms]; the page looks every 12 s."""


def start(page: Page, floor: Floor, slug: str, until: str) -> Scene:
    """Play a job as far as an item, then sign the technician on."""
    scene = floor.job(slug, until)
    sign_on(page, TECHNICIAN, floor.shop.pin)
    return scene


def form_of(page: Page, item: str) -> Locator:
    return page.locator(f'form[data-kind="value"][data-item="{item}"]')


def card_of(page: Page, item: str) -> Locator:
    return page.locator(".card", has=form_of(page, item))


def test_the_next_thing_stands_on_today_and_a_reading_takes_four_acts(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    item = "isolation_readings.temperature_c"
    scene = start(page, floor, "hatchback-heater", item)
    row = page.locator(f'[data-section="mine"] a[href*="{scene.job}"]')
    expect(row).to_contain_text("Next: Temperature where the vehicle stands")
    row.click()
    page.wait_for_load_state()
    watch = Stopwatch(page)
    expect(page.locator(".card-next")).to_contain_text("Temperature where the vehicle stands")
    watch.fill(form_of(page, item).locator("[name=value]"), "19")
    watch.press("Enter")
    expect(form_of(page, item)).to_have_count(0)
    assert watch.acts <= MOST_ACTS_TO_READ
    # The focus goes on to what is next, so that the next figure needs no tap at all.
    expect(form_of(page, "isolation_readings.humidity_percent").locator("input")).to_be_focused()
    strike(page)
    type_from_paper(page, floor)
    assert complaints == []


def strike(page: Page) -> None:
    """Cross the reading out with a reason; it stays readable."""
    given = page.locator(".given", has_text=re.compile(r"19\s°C"))
    page.locator(".given", has_text="Temperature where").get_by_text("Strike").first.click()
    page.get_by_label("Why is it struck?").locator("visible=true").fill("Read off the wrong scale")
    page.get_by_role("button", name="Strike with this reason").locator("visible=true").click()
    struck = page.locator(".struck")
    expect(struck).to_contain_text("19")
    expect(struck).to_contain_text("Read off the wrong scale")
    expect(given.first).to_be_visible()


def type_from_paper(page: Page, floor: Floor) -> None:
    """Open the printed sheet, then type one value in from it: it is marked as such."""
    page.get_by_text("On paper", exact=True).click()
    page.get_by_role("link", name="Print a sheet").click()
    expect(page.get_by_role("main")).to_contain_text("Relative humidity")
    sheet = page.locator(".paper-number strong").inner_text()
    floor.clock.advance(timedelta(minutes=2))
    page.get_by_role("link", name="Back to the step").click()
    page.get_by_text("On paper", exact=True).click()
    page.get_by_role("link", name="Type in from paper").click()
    page.get_by_label("Number of the sheet").fill(sheet)
    page.get_by_label("Written, day and time").fill(f"{floor.clock.now():%Y-%m-%dT%H:%M}")
    writers = page.get_by_label("Written by")
    writer = writers.locator("option", has_text=SECOND).get_attribute("value")
    writers.select_option(writer)
    humidity = form_of(page, "isolation_readings.humidity_percent")
    humidity.locator("[name=value]").fill("58")
    humidity.get_by_role("button", name="Enter reading").click()
    expect(page.locator(".on-paper")).to_contain_text(sheet)


def test_lapsed_gloves_cannot_be_picked_and_say_why(page: Page, floor: Floor) -> None:
    item = "isolation_readings.live_gloves"
    scene = start(page, floor, "minibus-not-found", item)
    page.goto(f"/jobs/{scene.job}/isolation_readings/")
    picks = form_of(page, item).locator("select option")
    lapsed = picks.filter(has_text="G3")
    expect(lapsed).to_be_disabled()
    expect(lapsed).to_contain_text("lapsed on")
    expect(picks.filter(has_text="G1")).to_be_enabled()


def test_a_bolt_out_of_tolerance_is_said_kept_and_blocks(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    item = "module_swap.tie_torque"
    scene = start(page, floor, "van-swap", item)
    page.goto(f"/jobs/{scene.job}/module_swap/")
    form = form_of(page, item).first
    bolt = form.locator("[data-bolt-name]").inner_text()
    form.locator("input[name=value]").fill("40")
    form.get_by_role("button", name="Enter, next bolt").click()
    wrong = page.locator(".torque-off")
    expect(wrong).to_contain_text(f"{bolt}: 40")
    expect(wrong).to_contain_text("is outside")
    expect(page.locator("#sign")).not_to_contain_text("Sign the step")
    page.reload()
    expect(page.locator(".torque-off")).to_contain_text(f"{bolt}: 40")
    expect(page.locator("#panel")).to_contain_text(f"{bolt}, stage 1: 40 Nm instead of")
    check_the_quarantine(page, scene)
    assert complaints == []


def check_the_quarantine(page: Page, scene: Scene) -> None:
    """Enter the check that is due for the removed module; it is found on Today."""
    page.goto("/")
    due = page.locator('[data-section="quarantine"] a[href^="/quarantine/"]').first
    expect(due).to_contain_text("removed module")
    due.click()
    check = page.locator("#check")
    check.get_by_label("Air", exact=False).first.fill("8")
    names, numbers = check.locator(".watch-points .watch-name input"), check.locator(
        ".watch-points .watch-number input"
    )  # fmt: skip
    if not names.first.input_value():
        names.first.fill("Long side, middle")
    numbers.first.fill("9.5")
    check.get_by_role("button", name="Enter the check").click()
    expect(page.locator(".watch-history")).to_contain_text("9.5")
    del scene


def test_the_tablet_goes_on_to_a_second_person_in_two_taps_and_a_pin(
    page: Page, floor: Floor
) -> None:
    sign_on(page, TECHNICIAN, floor.shop.pin)
    page.goto("/packs/spares/")
    watch = Stopwatch(page)
    watch.tap(page.locator(".signed-on"))
    watch.tap(page.locator(".tile", has_text=SECOND))
    for digit in floor.shop.pin:
        page.get_by_role("button", name=digit, exact=True).click()
    watch.tap(page.get_by_role("button", name="Sign on"))
    expect(page.locator(".signed-on")).to_contain_text(SECOND)
    expect(page.locator("h1")).to_have_text("Spares")
    assert watch.acts <= MOST_ACTS_TO_HAND_ON


def test_what_another_tablet_enters_is_seen_without_a_touch_and_nothing_typed_is_lost(
    context_at: Callable[[str], BrowserContext], floor: Floor, complaints: Complaints
) -> None:
    scene = floor.job("van-harness", "intake.stands")
    desk, technician = (context_at(floor.address).new_page() for _ in range(2))
    sign_on(desk, "Lorne", floor.shop.pin)
    sign_on(technician, TECHNICIAN, floor.shop.pin)
    for page in (desk, technician):
        page.goto(f"/jobs/{scene.job}/intake/")
    pad = desk.locator('form[data-item="intake.authority"]')
    pad.get_by_label("Name of whoever signs").fill("B. Parcels")
    draw(pad)
    keys = form_of(desk, "intake.keys").locator("textarea")
    keys.fill("Key cabinet, ho")
    form_of(technician, "intake.stands").locator("textarea").fill("Bay 2, indoors")
    form_of(technician, "intake.stands").get_by_role("button").click()
    expect(desk.locator(".given", has_text="Bay 2, indoors")).to_be_visible(timeout=POLL_MS)
    expect(keys).to_be_focused()
    expect(keys).to_have_value("Key cabinet, ho")
    expect(pad.get_by_label("Name of whoever signs")).to_have_value("B. Parcels")
    assert desk.evaluate(STROKES) == 1
    assert complaints == []


def draw(pad: Locator) -> None:
    """Draw a line in the field."""
    field = pad.locator("canvas")
    field.scroll_into_view_if_needed()
    box = field.bounding_box()
    assert box is not None
    mouse = pad.page.mouse
    mouse.move(box["x"] + 40, box["y"] + 40)
    mouse.down()
    mouse.move(box["x"] + 160, box["y"] + 60, steps=4)
    mouse.up()


def test_a_page_whose_scripts_have_not_come_yet_puts_no_pin_into_its_address(
    browser: Browser, floor: Floor
) -> None:
    scene = floor.job("van-harness", "isolation_readings.temperature_c")
    bare = browser.new_context(base_url=floor.address, java_script_enabled=False)
    page = bare.new_page()
    sign_on(page, TECHNICIAN, floor.shop.pin)
    page.goto(f"/jobs/{scene.job}/isolation_readings/")
    address = page.url
    form = form_of(page, "isolation_readings.temperature_c")
    form.locator("[name=value]").fill("19")
    form.get_by_role("button").click()
    page.locator("h1").click()
    assert page.url == address
    expect(form.locator("[name=value]")).to_have_value("19")
    assert {each.get_attribute("method") for each in page.locator("form[data-entry]").all()} == {
        "dialog"
    }
    bare.close()
