"""Whatever the network, the server, the browser or the camera do: what was entered stays, once."""

import json
import time
from collections.abc import Callable
from typing import Any

import pytest
from django.conf import settings
from playwright.sync_api import BrowserContext, Locator, Page, Route, expect

from jobs.practice.scene import DESK
from tests.browser.floor import Floor
from tests.browser.hands import unfold
from tests.browser.test_outbox import (
    DUMP,
    FIRST,
    HUMIDITY,
    NOTHING,
    PICTURE,
    PNG,
    Door,
    count_says,
    enter,
    form_of,
    open_step,
    recorded,
)
from workshop.serving import data_folder

ContextAt = Callable[[str], BrowserContext]
NOTE = "intake.complaint"
ONE = "1 entry waits on this tablet"
ONLINE = "() => window.dispatchEvent(new Event('online'))"
OURS = {"X-Coldbus": "1", "Content-Type": "application/json"}
WAIT_S = 15.0
NO_ROOM = "navigator.storage.estimate = async () => ({ quota: 1000, usage: 990 })"
FULL_STORE = """() => {
  const real = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (...told) {
    if (this.name === "photos") throw new DOMException("full", "QuotaExceededError");
    return real.apply(this, told);
  };
}"""


@pytest.fixture
def page(context_at: ContextAt, floor: Floor) -> Page:
    """A page without a worker, so that every request is seen by the test."""
    context = context_at(floor.address)
    context.add_init_script("delete Navigator.prototype.serviceWorker")
    return context.new_page()


def store(page: Page) -> dict[str, Any]:
    held: dict[str, Any] = json.loads(page.evaluate(DUMP))
    return held


def lose(route: Route) -> None:
    """Let the server take it and lose its answer."""
    route.fetch()
    route.abort()


FAULTS: dict[str, Callable[[Route], None]] = {
    "request lost": Route.abort,
    "a fault of the server": lambda route: route.fulfill(status=500, body="fault"),
    "a server whose disk is full": lambda route: route.fulfill(status=507, headers=OURS, body="{}"),
    "page of somebody else": lambda route: route.fulfill(
        status=200, content_type="text/html", body="<h1>Sign in to this network</h1>"
    ),
    "words of somebody else": lambda route: route.fulfill(
        status=200,
        content_type="application/json",
        body=json.dumps({"answers": [{"key": key_of(route), "verdict": "applied"}]}),
    ),
    "an answer about nothing": lambda route: route.fulfill(
        status=200, headers=OURS, body='{"answers": []}'
    ),
    "an answer about another entry": lambda route: route.fulfill(
        status=200, headers=OURS, body='{"answers": [{"key": "other", "verdict": "applied"}]}'
    ),
    "half an answer": lambda route: route.fulfill(status=200, headers=OURS, body='{"answers": [{'),
    "no answer at all": lambda _route: None,
    "answer lost": lose,
}


def key_of(route: Route) -> str:
    entry = json.loads(route.request.post_data or "{}")["entries"][0]
    return str(entry["key"])


def sent_again(page: Page, door: Door) -> None:
    """Have it sent once more, and wait until the tablet is through with it."""
    before = len(door.bodies)
    page.evaluate(ONLINE)
    until = time.monotonic() + WAIT_S
    while len(door.bodies) == before and time.monotonic() < until:
        page.wait_for_timeout(50)
    assert len(door.bodies) > before


def test_an_entry_stays_whatever_comes_back_and_is_recorded_once(page: Page, floor: Floor) -> None:
    scene = open_step(page, floor)
    door = Door(page)
    door.answer = Route.abort
    enter(page, FIRST, "19")
    count_says(page, ONE)
    for name, fault in FAULTS.items():
        door.answer = fault
        sent_again(page, door)
        page.wait_for_timeout(300)
        (row,) = store(page)["queue"]
        assert (row["entry"]["value"], row["state"]) == ("19", "waiting"), name
        count_says(page, ONE)
    door.answer = Route.continue_
    page.evaluate(ONLINE)
    count_says(page, NOTHING)
    assert len(recorded(scene, FIRST)) == 1
    keys = {entry["key"] for body in door.bodies for entry in body["entries"]}
    assert (len(door.bodies) > len(FAULTS), len(keys)) == (True, 1)


def test_a_page_that_is_killed_while_it_sends_loses_nothing(page: Page, floor: Floor) -> None:
    scene = open_step(page, floor)
    address, door = page.url, Door(page)
    door.answer = lambda _route: None
    enter(page, FIRST, "19")
    until = time.monotonic() + WAIT_S
    while not door.bodies and time.monotonic() < until:
        page.wait_for_timeout(50)
    page.close()
    door.answer = Route.continue_
    another = page.context.new_page()
    another.goto(address)
    count_says(another, NOTHING)
    assert len(recorded(scene, FIRST)) == 1
    assert door.bodies[0]["entries"][0]["key"] == door.bodies[-1]["entries"][0]["key"]


def test_a_worker_that_is_killed_while_an_entry_is_sent_loses_nothing(
    context_at: ContextAt, floor: Floor
) -> None:
    page = context_at(floor.address).new_page()
    scene = open_step(page, floor)
    page.evaluate("async () => { await navigator.serviceWorker.ready; }")
    door = Door(page)
    door.answer = lambda _route: None
    enter(page, FIRST, "19")
    until = time.monotonic() + WAIT_S
    while not door.bodies and time.monotonic() < until:
        page.wait_for_timeout(50)
    workers = page.context.new_cdp_session(page)
    workers.send("ServiceWorker.enable")
    workers.send("ServiceWorker.stopAllWorkers")
    door.answer = Route.continue_
    page.reload()
    count_says(page, NOTHING)
    assert len(recorded(scene, FIRST)) == 1


# ---------------------------------------------------------------- the server was restored


def test_after_a_restore_the_receipts_go_again_and_nothing_is_doubled(
    page: Page, floor: Floor
) -> None:
    """The first entry is as one that the backup does not hold: the server never got it."""
    scene = open_step(page, floor)
    door = Door(page)
    door.answer = lambda route: route.fulfill(
        status=200,
        headers=OURS,
        body=json.dumps({"answers": [{"key": key_of(route), "verdict": "applied", "seq": 5}]}),
    )
    enter(page, FIRST, "19")
    until = time.monotonic() + WAIT_S
    while not store(page)["receipts"] and time.monotonic() < until:
        page.wait_for_timeout(50)
    count_says(page, NOTHING)
    door.answer = Route.continue_
    page.reload()
    enter(page, HUMIDITY, "58")
    expect(form_of(page, HUMIDITY)).to_have_count(0)
    assert [item for item, _ in recorded(scene, FIRST, HUMIDITY)] == [HUMIDITY]
    assert len(store(page)["receipts"]) == len([FIRST, HUMIDITY])
    data_folder.begin_epoch(settings.COLDBUS_DATA)
    page.reload()
    expect(form_of(page, FIRST)).to_have_count(0)
    count_says(page, NOTHING)
    assert sorted(item for item, _ in recorded(scene, FIRST, HUMIDITY)) == [HUMIDITY, FIRST]
    again = [entry["key"] for entry in door.bodies[-1]["entries"]]
    assert {receipt["key"] for receipt in store(page)["receipts"]} == set(again)


# ---------------------------------------------------------------- pictures and drafts


def choose_picture(page: Page) -> Locator:
    form = form_of(page, PICTURE)
    unfold(form)
    form.locator("[type=file]").set_input_files(
        {"name": "seen.png", "mimeType": "image/png", "buffer": PNG}
    )
    form.get_by_role("button", name="Add the picture").click()
    return form


@pytest.mark.parametrize("full", ["estimate", "store"])
def test_without_room_a_picture_is_refused_in_words_and_a_reading_is_kept(
    page: Page, floor: Floor, full: str
) -> None:
    if full == "estimate":
        page.context.add_init_script(NO_ROOM)
    scene = open_step(page, floor, until=NOTE, name=DESK)
    if full == "store":
        page.evaluate(FULL_STORE)
    page.context.set_offline(True)
    form = choose_picture(page)
    expect(form.locator(".answer")).to_contain_text("no room for another picture")
    words = form_of(page, NOTE)
    unfold(words)
    words.locator("[name=value]").fill("Warning lamp after a wash")
    words.locator("button[type=submit]").click()
    count_says(page, ONE)
    held = store(page)
    assert (len(held["queue"]), held["photos"]) == (1, [])
    page.context.set_offline(False)
    count_says(page, NOTHING)
    assert len(recorded(scene, NOTE)) == 1
    assert recorded(scene, PICTURE) == []


def test_what_is_half_typed_is_there_when_the_camera_has_made_the_page_load_anew(
    page: Page, floor: Floor
) -> None:
    open_step(page, floor, until=NOTE, name=DESK)
    words = form_of(page, NOTE)
    unfold(words)
    words.locator("[name=value]").fill("Lamp came on after")
    form = form_of(page, PICTURE)
    unfold(form)
    with page.expect_file_chooser():
        form.locator("[type=file]").click()
    page.reload()
    expect(form_of(page, NOTE).locator("[name=value]")).to_have_value("Lamp came on after")
    page.reload()
    expect(form_of(page, NOTE).locator("[name=value]")).to_have_value("")
