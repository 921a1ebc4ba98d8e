"""The outbox: what is entered without the server arrives once, in order, or is said."""

import base64
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, Route, expect

from jobs.models import Entry
from jobs.practice.scene import DESK, Scene
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on

ContextAt = Callable[[str], BrowserContext]
TECHNICIAN, SECOND = "Aster", "Munk"
JOB, FIRST = "hatchback-heater", "isolation_readings.temperature_c"
HUMIDITY = "isolation_readings.humidity_percent"
SIGNED = "de_energise_check.proof_second"
WRONG = "975310"
PICTURE = "intake.arrival_photo"
DOOR = "**/entries/"
DUMP = """async () => {
  const base = await new Promise((yes, no) => {
    const asked = indexedDB.open("coldbus-tablet");
    asked.onsuccess = () => yes(asked.result);
    asked.onerror = () => no(asked.error);
  });
  const found = {};
  for (const name of base.objectStoreNames) {
    found[name] = await new Promise((yes) => {
      const asked = base.transaction(name).objectStore(name).getAll();
      asked.onsuccess = () => yes(asked.result);
    });
  }
  base.close();
  return JSON.stringify(found);
}"""


@pytest.fixture
def page(context_at: ContextAt, floor: Floor) -> Page:
    """A page without a worker, so that every request is seen by the test."""
    context = context_at(floor.address)
    context.add_init_script("delete Navigator.prototype.serviceWorker")
    return context.new_page()


def form_of(page: Page, item: str) -> Locator:
    return page.locator(f'form[data-kind="value"][data-item="{item}"]')


def open_step(page: Page, floor: Floor, *, until: str = FIRST, name: str = TECHNICIAN) -> Scene:
    """Play a job as far as an item and stand on the page of its step."""
    scene = floor.job(JOB, until)
    sign_on(page, name, floor.shop.pin)
    page.goto(f"/jobs/{scene.job}/{until.partition('.')[0]}/")
    return scene


def enter(page: Page, item: str, typed: str) -> None:
    form = form_of(page, item)
    form.locator("[name=value]").fill(typed)
    form.get_by_role("button", name="Enter reading").click()


def recorded(scene: Scene, *items: str) -> list[tuple[str, Any]]:
    """Give what the record holds for those items, in its order."""
    entries = Entry.objects.filter(job_id=scene.job, item__in=items).order_by("seq")
    return [(each.item, each.value) for each in entries]


def count_says(page: Page, words: str) -> None:
    expect(page.locator("[data-queue]")).to_have_accessible_name(words)


PNG = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)
# Some browsers lose what is stored as a file; bytes they keep.
PICTURES = """() => new Promise((done) => {
  indexedDB.open("coldbus-tablet").onsuccess = ({ target }) => {
    const asked = target.result.transaction("photos").objectStore("photos").getAll();
    asked.onsuccess = () => {
      done(asked.result.map((each) => each.bytes.constructor.name));
      target.result.close();
    };
  };
})"""
NOTHING = "0 entries wait on this tablet"


@dataclass
class Door:
    """What a tablet posts to the door, and what it is made to hear."""

    page: Page
    bodies: list[dict[str, Any]] = field(default_factory=list)
    answer: Callable[[Route], None] = Route.continue_

    def __post_init__(self) -> None:
        self.page.context.route(DOOR, self.heard)

    def heard(self, route: Route) -> None:
        self.bodies.append(json.loads(route.request.post_data or "{}"))
        self.answer(route)


def test_entries_made_without_network_arrive_once_and_in_order(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = open_step(page, floor)
    page.context.set_offline(True)
    enter(page, FIRST, "19")
    count_says(page, "1 entry waits on this tablet")
    expect(page.locator(".card", has=form_of(page, FIRST)).locator(".queued")).to_contain_text("19")
    enter(page, HUMIDITY, "58")
    count_says(page, "2 entries wait on this tablet")
    assert recorded(scene, FIRST, HUMIDITY) == []
    page.context.set_offline(False)
    count_says(page, NOTHING)
    assert [item for item, _ in recorded(scene, FIRST, HUMIDITY)] == [FIRST, HUMIDITY]
    expect(form_of(page, FIRST)).to_have_count(0)
    expect(page.locator(".queued")).to_have_count(0)
    assert complaints == []


def test_three_tabs_send_each_entry_once(page: Page, floor: Floor) -> None:
    scene = open_step(page, floor)
    page.context.set_offline(True)
    enter(page, FIRST, "19")
    enter(page, HUMIDITY, "58")
    count_says(page, "2 entries wait on this tablet")
    page.context.set_offline(False)
    address = page.url
    others = [page.context.new_page() for _ in range(2)]
    for each in others:
        each.goto(address)
    for each in (page, *others):
        each.evaluate("() => window.dispatchEvent(new Event('online'))")
    for each in (page, *others):
        count_says(each, NOTHING)
    assert len(recorded(scene, FIRST, HUMIDITY)) == len([FIRST, HUMIDITY])


def test_a_double_tap_makes_one_entry(page: Page, floor: Floor) -> None:
    scene = open_step(page, floor)
    form = form_of(page, FIRST)
    form.locator("[name=value]").fill("19")
    form.get_by_role("button", name="Enter reading").dblclick()
    expect(form).to_have_count(0)
    count_says(page, NOTHING)
    assert len(recorded(scene, FIRST)) == 1


def test_a_refused_entry_holds_back_its_job_and_no_other(page: Page, floor: Floor) -> None:
    other = floor.job(JOB, FIRST)
    first = open_step(page, floor)
    second = page.context.new_page()
    second.goto(f"/jobs/{other.job}/isolation_readings/")
    page.context.set_offline(True)
    enter(page, FIRST, "1900")
    enter(page, HUMIDITY, "58")
    enter(second, FIRST, "19")
    count_says(second, "3 entries wait on this tablet")
    page.context.set_offline(False)
    count_says(page, "1 entry waits on this tablet, 1 not taken")
    expect(page.locator(".queued-refused")).to_contain_text("refused:")
    assert (len(recorded(first, FIRST, HUMIDITY)), len(recorded(other, FIRST))) == (0, 1)
    page.locator(".queued-refused").get_by_role("button", name="Correct").click()
    expect(form_of(page, FIRST).locator("[name=value]")).to_have_value("1900")
    enter(page, FIRST, "19")
    expect(form_of(page, FIRST)).to_have_count(0)
    count_says(page, NOTHING)
    assert {item for item, _ in recorded(first, FIRST, HUMIDITY)} == {FIRST, HUMIDITY}


def test_a_refusal_heard_at_once_stands_at_the_form_and_in_nobodys_way(
    page: Page, floor: Floor
) -> None:
    open_step(page, floor)
    enter(page, FIRST, "1900")
    expect(form_of(page, FIRST).locator(".answer")).not_to_be_empty()
    expect(form_of(page, FIRST).locator("[name=value]")).to_have_value("1900")
    count_says(page, NOTHING)


def test_a_store_that_the_browser_closed_is_opened_again(page: Page, floor: Floor) -> None:
    open_step(page, floor)
    page.evaluate("""() => {
      const real = IDBDatabase.prototype.transaction;
      let left = 1;
      IDBDatabase.prototype.transaction = function (...told) {
        if (left-- > 0) { this.close(); throw new DOMException("closing", "InvalidStateError"); }
        return real.apply(this, told);
      };
    }""")
    page.context.set_offline(True)
    enter(page, FIRST, "19")
    count_says(page, "1 entry waits on this tablet")


def test_without_a_store_an_entry_goes_directly_or_stays_in_its_form(
    page: Page, floor: Floor
) -> None:
    scene = open_step(page, floor)
    page.evaluate("""() => {
      IDBDatabase.prototype.transaction = () => {
        throw new DOMException("full", "QuotaExceededError");
      };
    }""")
    page.context.set_offline(True)
    enter(page, FIRST, "19")
    answer = form_of(page, FIRST).locator(".answer")
    expect(answer).to_contain_text("the server did not answer")
    expect(form_of(page, FIRST).locator("[name=value]")).to_have_value("19")
    page.context.set_offline(False)
    form_of(page, FIRST).get_by_role("button", name="Enter reading").click()
    expect(form_of(page, FIRST)).to_have_count(0)
    assert len(recorded(scene, FIRST)) == 1


def test_a_form_is_not_cleared_before_the_entry_is_written(page: Page, floor: Floor) -> None:
    open_step(page, floor)
    page.context.set_offline(True)
    enter(page, FIRST, "19")
    expect(page.locator(".queued")).to_contain_text("waits on this tablet")
    held = json.loads(page.evaluate(DUMP))
    (row,) = held["queue"]
    assert (row["entry"]["value"], row["entry"]["device_seq"], held["receipts"]) == ("19", 1, [])


def test_what_waits_moves_to_another_tablet_as_a_file(
    page: Page, context_at: ContextAt, floor: Floor, tmp_path: Path
) -> None:
    scene = open_step(page, floor)
    listing = page.context.new_page()
    listing.goto("/tablet/")
    page.context.set_offline(True)
    enter(page, FIRST, "19")
    count_says(page, "1 entry waits on this tablet")
    expect(listing.locator("[data-tablet-waiting]")).to_contain_text("19")
    with listing.expect_download() as saved:
        listing.get_by_role("button", name="Save unsent entries").click()
    file = tmp_path / "unsent.json"
    saved.value.save_as(file)
    other = context_at(floor.address).new_page()
    sign_on(other, TECHNICIAN, floor.shop.pin)
    other.goto("/tablet/")
    other.locator("[data-tablet-load]").set_input_files(file)
    other.get_by_role("button", name="Send now").click()
    expect(other.locator("[data-tablet-taken]")).to_contain_text("19")
    assert len(recorded(scene, FIRST)) == 1
    file.write_text('{"format": "something else"}')
    other.locator("[data-tablet-load]").set_input_files(file)
    expect(other.locator("[data-tablet-said]")).to_contain_text("not one of unsent entries")


def sign_as(page: Page, item: str, pin: str) -> None:
    form = form_of(page, item)
    form.locator("[name=person]").select_option(
        label=form.locator("option", has_text=SECOND).first.inner_text()
    )
    form.locator("[name=pin]").fill(pin)
    form.locator("button[type=submit]").click()


def test_a_wrong_pin_typed_without_network_is_asked_again_and_kept_nowhere(
    page: Page, floor: Floor
) -> None:
    scene = open_step(page, floor, until=SIGNED)
    page.context.set_offline(True)
    sign_as(page, SIGNED, WRONG)
    expect(page.locator(".queued")).to_contain_text("signed, waits on this tablet")
    assert WRONG not in page.evaluate(DUMP)
    page.context.set_offline(False)
    again = page.locator(".queued-pin")
    expect(again).to_contain_text("sign again")
    again.locator("[name=pin]").fill(floor.shop.pin)
    again.get_by_role("button", name="Sign again").click()
    count_says(page, NOTHING)
    assert len(recorded(scene, SIGNED)) == 1
    assert f'"{floor.shop.pin}"' not in page.evaluate(DUMP)


def two_values(page: Page, context_at: ContextAt, floor: Floor) -> Scene:
    """Let another tablet record what this one entered without the network."""
    scene = open_step(page, floor)
    other = context_at(floor.address).new_page()
    sign_on(other, SECOND, floor.shop.pin)
    other.goto(f"/jobs/{scene.job}/isolation_readings/")
    page.context.set_offline(True)
    enter(page, FIRST, "19")
    count_says(page, "1 entry waits on this tablet")
    enter(other, FIRST, "21")
    expect(form_of(other, FIRST)).to_have_count(0)
    page.context.set_offline(False)
    expect(page.locator(".queued-refused")).to_contain_text(SECOND)
    return scene


def test_mine_is_dropped_where_another_tablet_was_first(
    page: Page, context_at: ContextAt, floor: Floor
) -> None:
    scene = two_values(page, context_at, floor)
    row = page.locator(".queued-refused")
    row.get_by_role("button", name="Drop mine").click()
    row.get_by_role("button", name="Drop it for good").click()
    count_says(page, NOTHING)
    assert len(recorded(scene, FIRST)) == 1


def test_mine_is_recorded_instead_with_a_reason(
    page: Page, context_at: ContextAt, floor: Floor
) -> None:
    scene = two_values(page, context_at, floor)
    row = page.locator(".queued-refused")
    row.get_by_role("button", name="Record mine instead").click()
    expect(row.locator(".answer")).to_contain_text("Say why")
    row.get_by_label("Why is the other one struck?").fill("Read in the sun")
    row.get_by_role("button", name="Record mine instead").click()
    count_says(page, NOTHING)
    expect(page.locator(".struck")).to_contain_text("Read in the sun")
    assert [value["typed"] for _, value in recorded(scene, FIRST)] == ["21", "19"]


def test_what_needs_the_servers_answer_never_waits(page: Page, floor: Floor) -> None:
    open_step(page, floor)
    page.goto(page.url.replace("isolation_readings", "de_energise_check"))
    Door(page).answer = Route.abort
    page.locator("#reopen > summary").click()
    form = page.locator('form[data-kind="reopen"]')
    form.locator("[name=reason]").fill("Lock was taken off")
    form.locator("[name=pin]").fill(floor.shop.pin)
    form.locator("button[type=submit]").click()
    expect(form.locator(".answer")).to_contain_text("needs the server’s answer")
    count_says(page, NOTHING)


def test_a_picture_waits_beside_readings_and_arrives_with_its_entry(
    page: Page, floor: Floor
) -> None:
    scene = open_step(page, floor, until="intake.complaint", name=DESK)
    page.context.set_offline(True)
    form = form_of(page, PICTURE)
    folded = form.locator("xpath=ancestor::details[not(@open)]")
    while folded.count():
        folded.first.locator("> summary").click()
    form.locator("[type=file]").set_input_files(
        {"name": "seen.png", "mimeType": "image/png", "buffer": PNG}
    )
    form.get_by_role("button", name="Add the picture").click()
    expect(page.locator(".queued", has_text="picture")).to_be_visible()
    assert page.evaluate(PICTURES) == ["ArrayBuffer"]
    page.context.set_offline(False)
    expect(page.locator(".queued")).to_have_count(0)
    assert len(recorded(scene, PICTURE)) == 1


def test_the_name_of_a_tablet_stands_in_its_field(page: Page, floor: Floor) -> None:
    sign_on(page, TECHNICIAN, floor.shop.pin)
    page.goto("/tablet/")
    field = page.locator("[data-tablet-name]")
    expect(field).to_have_value("")
    expect(page.locator("[data-tablet-store]")).not_to_be_empty()
    field.fill("bay 2")
    page.get_by_role("button", name="Save the name").click()
    expect(field).to_have_value("bay 2")
