"""Pages of this tablet's open jobs open without the network, say their age, and take entries."""

import re
from collections.abc import Callable
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from jobs.models import Entry
from jobs.practice.player import Stopped, play
from jobs.practice.scene import Scene
from tests.browser.conftest import ARGUMENTS, CHROMIUM, TABLET
from tests.browser.floor import Floor
from tests.browser.hands import sign_on
from tests.browser.test_outbox import FIRST, HUMIDITY, NOTHING, count_says, enter, recorded

ContextAt = Callable[[str], BrowserContext]
JOB = "hatchback-heater"
NEXT = "de_energise_check"
KEPT = """async () => (await (await caches.open("coldbus-pages")).keys())
  .map((each) => new URL(each.url).pathname)"""
FORGET = """async () => {
  localStorage.removeItem("coldbus-kept");
  await caches.delete("coldbus-pages");
}"""
UNFOLD = """(form) => {
  let fold = form.closest("details");
  for (; fold; fold = fold.parentElement.closest("details")) fold.open = true;
}"""
PATIENCE_MS = 30_000


def kept(page: Page, path: str) -> None:
    """Wait until the tablet has a copy of a page; it makes them by itself, one by one."""
    for _ in range(PATIENCE_MS // 250):
        if path in page.evaluate(KEPT):
            return
        page.wait_for_timeout(250)
    raise AssertionError(f"{path} is not kept: {page.evaluate(KEPT)}")


def at_the_readings(page: Page, floor: Floor) -> Scene:
    scene = floor.job(JOB, FIRST)
    sign_on(page, "Aster", floor.shop.pin)
    page.goto(f"/jobs/{scene.job}/isolation_readings/")
    kept(page, f"/jobs/{scene.job}/road_test/")
    return scene


def axe_finds_nothing(page: Page) -> None:
    found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]})
    assert [each["id"] for each in found.response["violations"]] == []


def test_a_step_opens_without_the_network_says_its_age_and_takes_entries(
    context_at: ContextAt, floor: Floor
) -> None:
    context = context_at(floor.address)
    page = context.new_page()
    scene = at_the_readings(page, floor)
    context.set_offline(True)
    page.reload()
    expect(page.locator("[data-connected][data-off]")).to_have_text("not connected")
    expect(page.locator('[data-note="age"]')).to_contain_text(re.compile(r"Page from \d\d:\d\d"))
    expect(page.locator(".hv")).to_contain_text("not confirmed")
    enter(page, FIRST, "19")
    count_says(page, "1 entry waits on this tablet")
    page.reload()
    expect(page.locator(".queued")).to_contain_text("19")
    axe_finds_nothing(page)
    page.goto(f"/jobs/{scene.job}/road_test/")
    expect(page.locator("h1")).to_have_text("Road test")
    page.goto("/shop/people/")
    expect(page.locator("h1")).not_to_have_text("People")
    axe_finds_nothing(page)
    page.goto(f"/jobs/{scene.job}/isolation_readings/")
    assert recorded(scene, FIRST) == []
    context.set_offline(False)
    count_says(page, NOTHING)
    expect(page.locator('[data-note="age"]')).to_have_count(0)
    expect(page.locator(".hv")).not_to_contain_text("not confirmed")
    assert len(recorded(scene, FIRST)) == 1


def test_what_needs_the_servers_answer_is_shut_meanwhile(
    context_at: ContextAt, floor: Floor
) -> None:
    context = context_at(floor.address)
    page = context.new_page()
    at_the_readings(page, floor)
    page.goto(page.url.replace("isolation_readings", NEXT))
    again = page.locator('form[data-kind="reopen"]')
    again.evaluate(UNFOLD)
    expect(again.locator("button[type=submit]")).to_be_enabled()
    context.set_offline(True)
    expect(again.locator("button[type=submit]")).to_be_disabled()
    expect(again).to_contain_text("Needs the server's answer.")
    context.set_offline(False)
    expect(again.locator("button[type=submit]")).to_be_enabled()


def test_what_waited_is_there_after_the_browser_was_closed(
    browser: Browser, home: dict[str, str], floor: Floor, tmp_path: Path
) -> None:
    def opened() -> BrowserContext:
        return browser.browser_type.launch_persistent_context(
            str(tmp_path / "tablet"),
            executable_path=CHROMIUM,
            args=list(ARGUMENTS),
            env={**home},
            viewport=TABLET,
            base_url=floor.address,
        )

    context = opened()
    page = context.new_page()
    scene = at_the_readings(page, floor)
    context.set_offline(True)
    page.reload()
    enter(page, FIRST, "19")
    count_says(page, "1 entry waits on this tablet")
    enter(page, HUMIDITY, "55")
    count_says(page, "2 entries wait on this tablet")
    context.close()
    context = opened()
    context.set_offline(True)
    page = context.new_page()
    page.goto(f"/jobs/{scene.job}/isolation_readings/")
    count_says(page, "2 entries wait on this tablet")
    context.set_offline(False)
    count_says(page, NOTHING)
    assert [item for item, _ in recorded(scene, FIRST, HUMIDITY)] == [FIRST, HUMIDITY]
    context.close()


def test_the_page_of_a_captive_portal_is_neither_kept_nor_shown(
    context_at: ContextAt, floor: Floor
) -> None:
    context = context_at(floor.address)
    page = context.new_page()
    scene = at_the_readings(page, floor)
    portal = "<!DOCTYPE html><html><title>Hotel</title><h1>Pay for this network</h1></html>"
    context.route("**/*", lambda route: route.fulfill(body=portal, content_type="text/html"))
    page.reload()
    expect(page.locator("h1")).to_have_text("Isolation readings")
    enter(page, FIRST, "19")
    count_says(page, "1 entry waits on this tablet")
    context.unroute("**/*")
    page.reload()
    expect(page.locator("h1")).to_have_text("Isolation readings")
    count_says(page, NOTHING)
    assert len(recorded(scene, FIRST)) == 1


def test_a_page_that_the_worker_does_not_answer_for_yet_is_taken_over_and_kept(
    context_at: ContextAt, floor: Floor
) -> None:
    context = context_at(floor.address)
    page = context.new_page()
    scene = at_the_readings(page, floor)
    page.evaluate(FORGET)
    # A page loaded past the worker is as one that was opened while the worker was beginning.
    context.new_cdp_session(page).send("Page.reload", {"ignoreCache": True})
    expect(page.locator("h1")).to_have_text("Isolation readings")
    kept(page, f"/jobs/{scene.job}/road_test/")


def at_the_signature(page: Page, floor: Floor) -> Scene:
    """Stand before the signature of the intake, with its pages kept."""

    def stop(_scene: Scene) -> None:
        raise Stopped

    scene = floor.job(JOB, "intake.keys")
    scene.mishaps = {"sign intake": stop}
    play(scene)
    sign_on(page, "Aster", floor.shop.pin)
    page.goto(f"/jobs/{scene.job}/intake/")
    kept(page, f"/jobs/{scene.job}/road_test/")
    return scene


def sign_intake(page: Page, pin: str) -> None:
    form = page.locator('form[data-kind="sign"]')
    form.locator("[name=pin]").fill(pin)
    form.locator("button[type=submit]").click()
    count_says(page, "1 entry waits on this tablet")


def type_next(page: Page, scene: Scene) -> str:
    """Type something in the step behind the signature; give the item."""
    page.goto(f"/jobs/{scene.job}/{NEXT}/")
    behind = page.locator("[data-behind]")
    expect(behind).to_contain_text("wait behind your signature")
    form = behind.locator('form[data-entry="tick"]').first
    item = form.get_attribute("data-item") or ""
    form.evaluate(UNFOLD)
    form.locator("button[type=submit]").click()
    count_says(page, "2 entries wait on this tablet")
    return item


def kinds(scene: Scene) -> list[str]:
    rows = Entry.objects.filter(job_id=scene.job).order_by("seq")
    return [f"{each.kind} {each.item}".strip() for each in rows]


def test_the_next_step_is_typed_behind_a_signature_and_taken_after_it(
    context_at: ContextAt, floor: Floor
) -> None:
    context = context_at(floor.address)
    page = context.new_page()
    scene = at_the_signature(page, floor)
    context.set_offline(True)
    page.reload()
    sign_intake(page, floor.shop.pin)
    item = type_next(page, scene)
    axe_finds_nothing(page)
    context.set_offline(False)
    count_says(page, NOTHING)
    assert kinds(scene)[-2:] == ["sign", f"value {item}"]


def test_a_signature_that_is_not_taken_holds_what_was_typed_behind_it(
    context_at: ContextAt, floor: Floor
) -> None:
    context = context_at(floor.address)
    page = context.new_page()
    scene = at_the_signature(page, floor)
    before = kinds(scene)
    context.set_offline(True)
    page.reload()
    sign_intake(page, "975310")
    type_next(page, scene)
    context.set_offline(False)
    expect(page.locator("[data-behind]")).to_contain_text("was not taken", timeout=PATIENCE_MS)
    expect(page.locator("[data-behind] .queued")).to_have_count(1)
    assert kinds(scene) == before
    page.locator("[data-queue]").click()
    again = page.locator(".queued-pin").first
    again.locator("[name=pin]").fill(floor.shop.pin)
    again.get_by_role("button", name="Sign again").click()
    count_says(page, NOTHING)
    assert kinds(scene)[len(before)] == "sign"
    assert len(kinds(scene)) == len(before) + 2
