"""The manager's lists in a browser: a timeline, a week, earlier jobs as a guide, a disposal."""

import re

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from jobs.practice.player import close
from jobs.practice.scene import TECHNICIAN, Scene
from jobs.steps.fault_localisation.items import HISTORY
from jobs.steps.module_swap.items import WATCH_STARTED
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on

MANAGER = "Thorne"
WIDTHS = ((1180, 820), (820, 1180), (390, 844))
LONG_MS = 30_000


def fits(page: Page) -> None:
    """See that nothing stands out sideways on tablet and phone, and targets can be hit."""
    for width, height in WIDTHS:
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    for button in page.locator("main .button:visible, main button:visible").all():
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= 48
    page.set_viewport_size({"width": 1180, "height": 820})


def test_a_declined_job_tells_its_course_and_stands_in_its_week(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = floor.job("hatchback-declined")
    close(scene)
    sign_on(page, MANAGER, floor.shop.pin)
    page.goto("/jobs/week/")
    row = page.locator("table.week tbody tr").filter(has=page.locator(f'a[href*="{scene.job}"]'))
    expect(row).to_contain_text("declined")
    expect(row).to_contain_text("not read")
    fits(page)
    row.locator('a[href$="/timeline/"]').click()
    expect(page.locator("h1")).to_contain_text("Timeline")
    course = page.locator("ol.course")
    for words in ("Booked in", "Customer answered: declined", "Closed: declined"):
        expect(course).to_contain_text(words)
    expect(page.locator(".course-picture svg")).to_be_visible()
    fits(page)
    page.goto("/jobs/week/")
    page.locator("#week-before").click()
    expect(page.locator("#week-after")).to_be_visible()
    page.locator("#week-after").click()
    expect(page.locator(f'a[href*="{scene.job}"]').first).to_be_visible()
    assert complaints == []


@pytest.fixture(scope="module")
def found(floor: Floor) -> Scene:
    """Give a job that has named and confirmed a module, and whose swap is open."""
    return floor.job("van-coolant", "module_swap")


def test_earlier_jobs_guide_the_search_once_they_are_switched_on(
    page: Page, floor: Floor, found: Scene, complaints: Complaints
) -> None:
    scene = floor.job("van-harness", "fault_localisation")
    sign_on(page, TECHNICIAN, floor.shop.pin)
    page.goto(f"/jobs/{scene.job}/fault_localisation/")
    expect(page.locator("main")).not_to_contain_text("The readings without earlier jobs")
    form = page.locator(f'form[data-item="{HISTORY.key}"]')
    form.evaluate("form => { const fold = form.closest('details'); if (fold) fold.open = true }")
    form.locator('button[type="submit"]').click()
    panel = page.locator("main")
    expect(panel).to_contain_text("The readings without earlier jobs", timeout=LONG_MS)
    # Other tests of this floor may have confirmed the same module.
    counted = re.search(r"M9 (\d+)×", panel.inner_text())
    assert counted is not None
    number = page.locator(".bar-number").inner_text()
    page.goto(reverse("packs:pack", args=["delivery-van"]))
    expect(page.locator("#leaks")).to_contain_text(f"Module M9: {counted[1]}×")
    expect(page.locator(f'#leaks a[href*="{found.job}"]').first).to_be_visible()
    expect(page.locator("#leaks")).not_to_contain_text(number)
    fits(page)
    assert complaints == []


def test_a_module_under_watch_goes_only_with_an_escort_and_a_reason(
    page: Page, floor: Floor, found: Scene, complaints: Complaints
) -> None:
    found.enter(WATCH_STARTED, True, at="module=M9")
    sign_on(page, MANAGER, floor.shop.pin)
    page.goto("/quarantine/")
    page.get_by_role("link", name="M9").first.click()
    page.get_by_role("link", name="Its disposal").click()
    expect(page.locator("main")).to_contain_text("Its watch still runs")
    expect(page.locator("main")).to_contain_text("Guidance, not law")
    fits(page)
    page.get_by_text("Damaged or defective", exact=True).click()
    page.get_by_text("Poles insulated against short circuit", exact=True).click()
    page.get_by_label("Name of the receiver").fill("Nordhaven Recovery")
    page.get_by_label("Number of the consignment paper").fill("CMR 4471")
    page.get_by_label("Weight").fill("12,4")
    page.get_by_label("Your PIN").fill(floor.shop.pin)
    page.get_by_role("button", name="Record the hand-over").click()
    expect(page.locator(".fault").first).to_contain_text("Its watch still runs")
    expect(page.get_by_label("Number of the consignment paper")).to_have_value("CMR 4471")
    page.get_by_text("Collected with an escort").click()
    page.get_by_label("Reason, remark").fill("Recycler collects it with an escort")
    page.get_by_label("Your PIN").fill(floor.shop.pin)
    page.get_by_role("button", name="Record the hand-over").click()
    expect(page.locator("main")).to_contain_text("CMR 4471", timeout=LONG_MS)
    expect(page.locator("main")).to_contain_text("P908 or LP904")
    page.goto("/disposal/")
    expect(page.locator("table")).to_contain_text("Nordhaven Recovery")
    fits(page)
    assert [each for each in complaints if "422" not in each] == []
