"""A log read in by itself: columns guessed, then remembered; another car's log is refused."""

from dataclasses import replace
from datetime import timedelta

from playwright.sync_api import Page, expect

from jobs.practice.log import LogPlan, lasts_s, simulated_log
from jobs.practice.scene import Scene
from jobs.steps.road_test.items import LOG, SLUG
from packs.definition import PackDefinition
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on, stored
from tests.browser.test_measuring import go
from tests.browser.test_technician import TECHNICIAN

CURRENT, OTHER_CURRENT = "Pack current [A]", "Battery current [A]"
SOURCE, LANES = "Bench recorder", "Cells by module, at rest"


def log_of(scene: Scene, pack: PackDefinition, seed: int, current: str = CURRENT) -> bytes:
    """Write a log that ended just now, its current under a name that no other test uses."""
    plan = LogPlan(began=scene.clock.now(), seed=seed)
    began = scene.record().now - timedelta(seconds=lasts_s(pack, plan))
    written = simulated_log(pack, replace(plan, began=began))
    return written.replace(b"I [A]", current.encode(), 1)


def choose(page: Page, name: str, content: bytes) -> None:
    """Choose a file, and have it looked at."""
    page.get_by_role("link", name="Read a log in").first.click()
    page.locator("#log-file").set_input_files(
        {"name": name, "mimeType": "text/csv", "buffer": content}
    )
    page.get_by_role("button", name="Look at it").click()
    page.wait_for_url("**/log/*/?name=*")


def at_the_log(page: Page, floor: Floor, slug: str) -> Scene:
    """Play a job to its log, let the vehicle be driven and charged, and open the road test."""
    scene = floor.job(slug, LOG.key)
    floor.clock.advance(timedelta(hours=6))
    sign_on(page, TECHNICIAN, floor.shop.pin)
    go(page, scene, SLUG)
    return scene


def test_columns_are_guessed_the_first_time_and_remembered_the_next(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = at_the_log(page, floor, "van-seal")
    before = stored(scene)
    choose(page, "first.csv", log_of(scene, scene.pack, 11))
    says, source = page.locator(".log-says"), page.get_by_label("Remember these columns as")
    current = page.get_by_label(CURRENT, exact=True)
    expect(current).to_have_value("current")
    expect(page.locator(".log-cells > summary")).to_contain_text("84 columns are cells")
    expect(source).to_have_value("")
    expect(says).to_contain_text("The log shows no cell apart.")
    expect(says.locator("svg title", has_text=LANES)).to_have_count(1)
    # Looking saves nothing, however often.
    current.select_option("")
    page.get_by_role("button", name="Look again with these columns").click()
    expect(page.locator(".log-faults")).to_contain_text("current")
    expect(page.get_by_role("button", name="Save the log in the job")).to_have_count(0)
    current.select_option("current")
    page.get_by_role("button", name="Look again with these columns").click()
    assert stored(scene) == before
    source.fill(SOURCE)
    page.get_by_role("button", name="Save the log in the job").click()
    expect(page.locator(".messages")).to_contain_text("The log is in the record.")
    assert stored(scene) == before + 1
    expect(page.locator("#panel svg title", has_text=LANES)).to_have_count(1)
    choose(page, "second.csv", log_of(scene, scene.pack, 12))
    expect(source).to_have_value(SOURCE)
    expect(current).to_have_value("current")
    assert complaints == []


def test_the_log_of_another_car_is_refused_at_its_field_and_kept_for_correction(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = at_the_log(page, floor, "van-seal")
    before, other = stored(scene), floor.shop.packs["city-hatchback"]
    choose(page, "of the hatchback.csv", log_of(scene, other, 13, OTHER_CURRENT))
    faults = page.locator(".log-faults")
    expect(faults).to_contain_text("this pack has 84 cells in series")
    expect(page.locator(".log-cells")).to_have_attribute("open", "")
    expect(page.locator(".log-says")).to_contain_text("Not to be saved like this.")
    expect(page.get_by_role("button", name="Save the log in the job")).to_have_count(0)
    address = page.url.partition("?")[0]
    page.get_by_role("link", name="Back without saving").click()
    page.get_by_role("link", name="Read a log in").first.click()
    kept = page.get_by_role("link", name="File ")
    kept.click()
    expect(faults).to_contain_text("this pack has 84 cells in series")
    assert page.url == address
    assert stored(scene) == before
    assert complaints == []


def test_a_longer_log_of_the_same_recorder_is_not_cut_to_the_cells_remembered(
    page: Page, floor: Floor
) -> None:
    scene = at_the_log(page, floor, "van-seal")
    choose(page, "own.csv", log_of(scene, scene.pack, 14, "String current [A]"))
    page.get_by_label("Remember these columns as").fill("String recorder")
    page.get_by_role("button", name="Save the log in the job").click()
    expect(page.locator(".messages")).to_contain_text("The log is in the record.")
    before, other = stored(scene), floor.shop.packs["city-hatchback"]
    choose(page, "of the hatchback.csv", log_of(scene, other, 15, "String current [A]"))
    expect(page.locator(".log-faults")).to_contain_text("this pack has 84 cells in series")
    assert stored(scene) == before
