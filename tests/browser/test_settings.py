"""The shop's own settings by hand: units, logo and language, and what a technician types then."""

import io
from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, FilePayload, Locator, Page, ViewportSize, expect

from jobs.practice.scene import MANAGER, TECHNICIAN
from jobs.queries.records import record_of
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on
from workshop import actions, queries
from workshop.details import ShopDetails

TORQUE = "module_swap.tie_torque"
NM_PER_FTLB = 1.3558179483314004
PHONE = ViewportSize(width=390, height=844)
NARROW = "document.documentElement.scrollWidth <= innerWidth"


@pytest.fixture
def as_before(floor: Floor) -> Iterator[None]:
    """The floor belongs to every test: what was set here is put back."""
    shop = queries.shop()
    names = ShopDetails.__dataclass_fields__
    details = ShopDetails(**{name: getattr(shop, name) for name in names})
    yield
    by = floor.shop.people[MANAGER]
    actions.update_shop(details=details, by=by)
    actions.set_logo(raw=None, by=by)


def form_of(page: Page) -> Locator:
    return page.locator(f'form[data-kind="value"][data-item="{TORQUE}"]').first


def a_logo() -> FilePayload:
    written = io.BytesIO()
    Image.new("RGB", (240, 80), (20, 60, 120)).save(written, format="PNG")
    return FilePayload(name="logo.png", mimeType="image/png", buffer=written.getvalue())


def choose_units(page: Page) -> None:
    """Set foot-pounds and a logo, as a manager does."""
    page.goto("/shop/settings/")
    page.get_by_label("Torque").select_option(label="ft·lb")
    page.get_by_label("Distance").select_option(label="miles")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_label("Torque")).to_have_value("ftlb")
    expect(page.locator(".history")).to_contain_text("Torque: was N·m, now ft·lb")
    page.get_by_label("Logo").set_input_files(files=[a_logo()])
    page.get_by_role("button", name="Take this picture").click()
    logo = page.get_by_role("img", name="Logo of the workshop")
    expect(logo).to_be_visible()
    assert logo.evaluate("each => each.decode().then(() => each.naturalWidth)") == 240
    page.set_viewport_size(PHONE)
    assert page.evaluate(NARROW)


def test_a_manager_sets_units_and_logo_and_a_torque_is_typed_in_them(
    context_at: Callable[[str], BrowserContext],
    floor: Floor,
    complaints: Complaints,
    as_before: None,
) -> None:
    scene = floor.job("van-swap", TORQUE)
    desk, page = (context_at(floor.address).new_page() for _ in range(2))
    # This page is older than the choice: what is typed there was meant as it says.
    sign_on(page, TECHNICIAN, floor.shop.pin)
    page.goto(f"/jobs/{scene.job}/module_swap/")
    old_form = form_of(page)
    first = old_form.locator("[data-bolt-name]").inner_text()
    sign_on(desk, MANAGER, floor.shop.pin)
    choose_units(desk)
    expect(old_form.locator(".unit")).to_have_text("N·m")
    old_form.locator("input[name=value]").fill("3")
    old_form.get_by_role("button", name="Enter, next bolt").click()
    # The answer brings the card anew, in the unit that counts now.
    form = form_of(page)
    expect(form.locator(".unit")).to_have_text("ft·lb")
    form.locator("input[name=value]").fill("2.2")
    expect(form.locator(".means")).to_have_text("2.2\u00a0ft·lb (2.983\u00a0N·m)")
    second = form.locator("[data-bolt-name]").inner_text()
    form.get_by_role("button", name="Enter, next bolt").click()
    expect(form.locator("[data-bolt-name]")).not_to_have_text(second)
    record = record_of(scene.job, now=floor.clock.now())
    assert record is not None
    values = [entry.value for entry in record.live[TORQUE]]
    stored = {name: cell for value in values for name, cell in value.items()}
    assert stored[first] == "3"
    assert stored[second]["typed_unit"] == "ftlb"
    assert float(stored[second]["number"]) == pytest.approx(2.2 * NM_PER_FTLB)
    type_an_older_sheet(page, floor, f"/jobs/{scene.job}/module_swap/")
    assert complaints == []


def type_an_older_sheet(page: Page, floor: Floor, address: str) -> None:
    """Type from a sheet that still says N·m: its unit is chosen, and stays so for that sheet."""
    page.goto(f"{address}?paper=1")
    bar = page.locator("[data-paper]")
    bar.get_by_label("Number of the sheet").fill("Q0-5-1")
    ways = form_of(page).get_by_role("group", name="Unit on the sheet")
    expect(ways.get_by_role("button", name="ft·lb")).to_have_attribute("aria-pressed", "true")
    ways.get_by_role("button", name="N·m").click()
    expect(form_of(page).locator("input[name=in]")).to_have_value("Nm")
    expect(form_of(page).locator(".unit")).to_have_text("N·m")
    # The choice holds for this sheet, also when the card comes anew; another sheet begins afresh.
    form_of(page).locator("input[name=value]").fill("3")
    expect(form_of(page).locator(".means")).to_contain_text("ft·lb (3\u00a0N·m)")
    floor.clock.advance(timedelta(seconds=1))


def test_ones_own_language_is_chosen_beside_the_pin(
    page: Page, floor: Floor, complaints: Complaints, as_before: None
) -> None:
    sign_on(page, TECHNICIAN, floor.shop.pin)
    page.goto("/shop/my-pin/")
    page.get_by_label("Language of my screens").select_option("de")
    page.locator('form[action$="/my-language/"] button').click()
    expect(page.locator("html")).to_have_attribute("lang", "de")
    page.locator("select[name=language]").select_option("")
    page.locator('form[action$="/my-language/"] button').click()
    expect(page.locator("html")).to_have_attribute("lang", "en")
    assert complaints == []
