"""A day at the desk, through the screens: booking, a call, the yard, a message, the last shift."""

import re
from datetime import timedelta

import pytest
from playwright.sync_api import Locator, Page, expect

from jobs.actions.desk import write_note
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on
from workshop import queries

DESK = "Lorne"
NOTE_KEY = "00000000-0000-4000-8000-00000000d35c"
PHONE, SPOKEN = "0131 496 7788", "+44 131 4967788"


@pytest.fixture
def desk(page: Page, floor: Floor) -> Page:
    """The desk's tablet, signed on, at Today."""
    sign_on(page, DESK, floor.shop.pin)
    return page


def card(page: Page, act: str) -> Locator:
    """Unfold one card of a job's desk."""
    found = page.locator(f"#{act}")
    if found.locator("details").get_attribute("open") is None:
        found.locator("summary").click()
    return found


def written(page: Page, words: str) -> None:
    """Wait until the desk's history says it."""
    expect(page.locator(".desk-history")).to_contain_text(words)


def test_a_note_of_the_shift_before_is_read_by_name(
    desk: Page, floor: Floor, complaints: Complaints
) -> None:
    munk, now = floor.shop.people["Munk"], floor.clock.now()
    write_note(key=NOTE_KEY, text="The charger in bay 2 trips.", by=munk, now=now)
    desk.goto("/")
    note = desk.locator('[data-section="hand-over"] li', has_text="The charger in bay 2 trips.")
    note.get_by_role("button", name="I have read it").click()
    expect(desk.get_by_text(re.compile("Read by Lorne"))).to_be_visible()
    expect(note).to_have_count(0)
    desk.get_by_role("link", name="Write a note for the next shift").click()
    desk.get_by_label(re.compile("For the next shift")).fill("Door left on the latch.")
    desk.get_by_role("button", name="Leave the note").click()
    handed = desk.locator('[data-section="hand-over"]')
    expect(handed).to_contain_text("Door left on the latch.")
    handed.locator("li", has_text="Door left").get_by_role("button", name="Take back").click()
    expect(desk.get_by_text("Door left on the latch.").locator("xpath=ancestor::section")
           ).to_have_count(0)  # fmt: skip
    assert complaints == []


def test_a_new_customer_is_booked_with_insurer_and_found_by_telephone(
    desk: Page, complaints: Complaints
) -> None:
    desk.goto("/jobs/book/?new=1")
    desk.get_by_label("Name (needed)").fill("Harbour Bakery")
    desk.get_by_label("Telephone").fill("ring the bell")
    desk.get_by_label("Plate").fill("PF 61 BAK")
    desk.get_by_text("Insurer, warranty, who works on it").click()
    desk.get_by_label("Who pays").select_option(label="the insurer")
    desk.get_by_label("Insurer").fill("Quayside Mutual")
    desk.get_by_label("Claim number").fill("QM-4471")
    desk.get_by_label("Assigned to").select_option(label="Munk")
    desk.get_by_role("button", name="Open the job").click()
    expect(desk.locator(".faults")).to_contain_text("Enter a telephone number")
    expect(desk.get_by_label("Claim number")).to_have_value("QM-4471")
    desk.get_by_label("Telephone").fill(PHONE)
    desk.get_by_role("button", name="Open the job").click()
    expect(desk.locator("h1")).to_have_text("Intake")
    for said in (SPOKEN, "qm-4471", "pf61bak"):
        desk.goto("/")
        desk.get_by_role("searchbox").fill(said)
        desk.get_by_role("button", name="Find").click()
        desk.locator(".large-choice", has_text="PF 61 BAK").first.click()
        expect(desk.locator(".bar-plate")).to_have_text("PF 61 BAK")
    desk.get_by_role("link", name=re.compile("^Desk: Munk")).click()
    expect(desk.locator("#facts")).to_contain_text("Quayside Mutual, claim QM-4471")
    assert complaints == []


def book_known(desk: Page, floor: Floor) -> None:
    """Book a known vehicle that nobody else's test meets, and go to the job's desk."""
    plate = floor.another("PF 12 BUS")
    desk.goto("/")
    desk.get_by_role("link", name="Book in", exact=True).click()
    desk.get_by_role("searchbox").fill(plate)
    desk.locator(f'.large-choice:has-text("{plate}")').first.click()
    desk.get_by_role("group", name="Promised").get_by_text("Tomorrow").click()
    desk.get_by_role("button", name="Open the job").click()
    expect(desk.locator(".bar-plate")).to_have_text(plate)
    desk.get_by_role("link", name="Desk", exact=True).click()


def test_a_known_car_is_moved_called_about_and_its_new_day_told(
    desk: Page, floor: Floor, complaints: Complaints
) -> None:
    book_known(desk, floor)
    move_to_the_yard(desk)
    write_a_call(desk, floor)
    move_the_day(desk, floor)
    number = (desk.locator("h1").text_content() or "").rpartition(" ")[2]
    desk.goto("/")
    due = desk.locator('[data-section="to-call"] li', has_text=number)
    expect(due).to_contain_text("Second key")
    expect(due).to_contain_text("parts are late")
    due.locator(".due-job").click()
    tell(desk, "The promised day has moved", "parts are late")
    desk.goto("/jobs/?q=row+3")
    expect(desk.locator(f'tr[data-job="{number}"]')).to_contain_text("yard, row 3, keys 12")
    assert complaints == []


def move_to_the_yard(desk: Page) -> None:
    """Write down where vehicle and keys went."""
    move = card(desk, "move")
    move.get_by_label("yard").check()
    move.get_by_label("More closely").fill("row 3")
    move.get_by_label("Hook or number").fill("12")
    move.get_by_role("button").click()
    written(desk, "yard, row 3; keys 12")


def write_a_call(desk: Page, floor: Floor) -> None:
    """Send an empty call, then one with words and the next one due today."""
    call = card(desk, "call")
    call.get_by_role("button").click()
    expect(desk.locator("#call .faults")).to_be_visible()
    call = card(desk, "call")
    call.get_by_label("we called the customer").check()
    call.get_by_label(re.compile("What was said")).fill("Asked for the second key.")
    today = queries.local_day(floor.clock.now())
    call.get_by_label("Next call due").fill(today.isoformat())
    call.get_by_label("About what").fill("Second key")
    call.get_by_role("button").click()
    written(desk, "Asked for the second key.")


def move_the_day(desk: Page, floor: Floor) -> None:
    """Move the promised day and say that the customer was not told."""
    today = queries.local_day(floor.clock.now())
    promise = card(desk, "promise")
    promise.get_by_label("Promised for").fill((today + timedelta(days=4)).isoformat())
    promise.get_by_label("Why it moves").select_option(label="parts are late")
    promise.get_by_label(re.compile("not yet")).check()
    promise.get_by_role("button").click()
    written(desk, "customer not told")


def tell(desk: Page, which: str, words: str) -> None:
    """Open a message, look where its link leads, and write down that it was sent."""
    desk.locator("#messages").get_by_role("link", name=which).click()
    expect(desk.get_by_label(re.compile("The message"))).to_have_value(re.compile(words))
    link = desk.get_by_role("link", name="Open as text message").get_attribute("href") or ""
    assert link.startswith("sms:")
    desk.get_by_role("button", name="It was sent").click()
    expect(desk.locator(".faults")).to_contain_text("It went as")
    desk.get_by_label("text message", exact=True).check()
    desk.get_by_role("button", name="It was sent").click()
    written(desk, words)


def test_a_finished_car_is_told_to_be_ready_in_one_sentence(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene, desk = floor.job("hatchback-charger"), page
    sign_on(desk, DESK, floor.shop.pin)
    desk.goto(f"/jobs/{scene.job}/desk/")
    tell(desk, "Ready to collect", "The leak was not in the battery but in another")
    expect(desk.locator(".desk-history")).to_contain_text("is ready to collect")
    assert complaints == []
