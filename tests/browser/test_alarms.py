"""Times that run out while a tablet lies there: the workshop's clock passes the end."""

from datetime import datetime, timedelta

from playwright.sync_api import Locator, Page, expect

from jobs.practice.scene import Scene
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on
from tests.browser.test_measuring import COUNT_TONES, go
from tests.browser.test_technician import TECHNICIAN, card_of, start

CHECK, REASSEMBLY = "de_energise_check", "reassembly"
BEFORE = timedelta(seconds=3)
LATER = timedelta(minutes=1)


def up_to_the_end(floor: Floor, until: str) -> None:
    """Move the workshop's clock to just before an end that the page counts down to."""
    floor.clock.moment = (
        datetime.fromisoformat(until).astimezone(floor.clock.moment.tzinfo) - BEFORE
    )


def open_before_the_end(page: Page, floor: Floor, scene: Scene, slug: str, time: Locator) -> None:
    """Open the step just before a time ends, and let the clock pass its end behind the page."""
    up_to_the_end(floor, time.get_attribute("data-until") or "")
    sign_on(page, TECHNICIAN, floor.shop.pin)
    go(page, scene, slug)
    page.locator("h1").click()
    expect(time.locator("[data-left]")).to_have_text("0:01")
    floor.clock.advance(LATER)


def test_the_waiting_time_alarms_by_ear_and_eye_and_then_the_reading_is_asked(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    page.add_init_script(f"({COUNT_TONES})()")
    scene = start(page, floor, "van-coolant", f"{CHECK}.gloves")
    go(page, scene, CHECK)
    count, alarm = page.locator("#panel .count[data-until]"), page.locator("[data-alarm]")
    expect(count).to_contain_text("Waiting time")
    open_before_the_end(page, floor, scene, CHECK, count)
    expect(alarm).to_be_visible()
    expect(alarm).to_contain_text("The waiting time is over.")
    assert page.evaluate("window.tones") >= 1
    # Nobody touched anything: the server was asked anew and counts no longer.
    expect(count).to_have_count(0)
    expect(alarm).to_be_visible()
    alarm.get_by_role("button", name="Heard").click()
    expect(alarm).to_be_hidden()
    assert complaints == []


def test_the_cure_of_the_sealant_is_shown_when_it_is_over_even_where_the_sound_is_off(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    page.add_init_script(f"({COUNT_TONES})()")
    scene = start(page, floor, "hatchback-module", f"{REASSEMBLY}.second")
    go(page, scene, REASSEMBLY)
    page.get_by_role("button", name="Alarm sound").click()
    curing = page.locator("#panel li[data-until]", has_text="The sealant cures until")
    alarm = page.locator("[data-alarm]")
    expect(curing).to_have_count(1)
    open_before_the_end(page, floor, scene, REASSEMBLY, curing)
    expect(alarm).to_be_visible()
    expect(alarm).to_contain_text("A time is over: go on.")
    assert page.evaluate("window.tones") == 0
    expect(curing).to_have_count(0)
    expect(card_of(page, f"{REASSEMBLY}.second")).to_be_visible()
    assert complaints == []
