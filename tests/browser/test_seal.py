"""The seal test sample by sample: what is still to wait, the strip, undecided, then decided."""

from datetime import timedelta

from playwright.sync_api import Locator, Page, expect

from jobs.practice.scene import Scene
from jobs.steps.seal_test.items import GAUGE, SAMPLE, SLUG
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import type_sample
from tests.browser.test_measuring import go, look_again
from tests.browser.test_technician import form_of, start

TEST_S, EVERY_S, BENCH_S = 600, 120, 30
"""What the pack's seal test asks, how often is read here, how often the bench gives a row [s]."""


def rows_of(scene: Scene) -> list[dict[str, str]]:
    """Give what gauge, thermometer and barometer show every two minutes."""
    rows = scene.bench.pressure(scene.picked(GAUGE), duration_s=TEST_S)
    names = ("t_s", "gauge", "temp_c", "barometer")
    taken = [dict(zip(names, row, strict=True)) for row in rows[:: EVERY_S // BENCH_S]]
    # The barometer of the workshop shows hectopascals.
    return [row | {"barometer": "1013.25"} for row in taken]


def enter(form: Locator, row: dict[str, str]) -> None:
    """Enter a sample and wait until the page has it."""
    page = form.page
    head = page.locator("[data-head]").get_attribute("data-head") or ""
    type_sample(form, row)
    form.get_by_role("button", name="Enter the sample").click()
    expect(page.locator(f'[data-head="{head}"]')).to_have_count(0)


def test_samples_are_entered_one_by_one_until_the_leak_is_decided(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = start(page, floor, "van-seal", SAMPLE.key)
    go(page, scene, SLUG)
    look_again(scene)
    rows, form = rows_of(scene), form_of(page, SAMPLE.key)
    verdict, strip = page.locator("#panel .verdict"), page.locator("#panel figure svg")
    enter(form, rows[0])
    expect(strip).to_have_count(0)
    count = page.locator("#panel .count[data-until]")
    expect(count).to_contain_text("Can be decided in about")
    expect(count.locator("[data-left]")).to_contain_text("9:")
    floor.clock.advance(timedelta(seconds=EVERY_S))
    page.reload()
    # The seconds come from the workshop's clock and stand still once the gauge is typed.
    form.locator("[name=gauge]").fill(rows[1]["gauge"])
    seconds = float(form.locator("[name=t_s]").input_value())
    assert EVERY_S <= seconds < EVERY_S + BENCH_S
    enter(form, {k: v for k, v in rows[1].items() if k != "t_s"})
    expect(strip.first.locator("title")).to_have_text("Decay strip")
    expect(verdict).to_contain_text("Not decided yet: sample until about 10 min are over.")
    for row in rows[2:]:
        expect(verdict).to_contain_text("min ")
        floor.clock.advance(timedelta(seconds=EVERY_S))
        enter(form, row)
    expect(verdict).to_contain_text("Within the limit.")
    expect(verdict).not_to_contain_text("min ")
    assert complaints == []
