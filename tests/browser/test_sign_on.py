"""Signing on without a mouse, with a wrong PIN, and after the tablet was left alone."""

from datetime import timedelta

from playwright.sync_api import Page, expect

from tests.browser.conftest import Complaints
from tests.browser.floor import Floor

MOST_TABS = 12


def tab_to(page: Page, words: str) -> None:
    """Press the tabulator until what has those words has the focus."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if words in page.evaluate("() => document.activeElement.textContent"):
            return
    raise AssertionError(f"{words} is not reached by the keyboard")


def test_somebody_signs_on_with_the_keyboard_alone(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    page.goto("/")
    tab_to(page, "Munk")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_accessible_name("Munk Technician")
    while not page.evaluate("() => document.activeElement.matches('[name=pin]')"):
        page.keyboard.press("Tab")
    page.keyboard.type("0000")
    page.keyboard.press("Enter")
    expect(page.locator(".field .fault")).to_contain_text("Tries left: 4")
    page.locator("[name=pin]").focus()
    page.keyboard.type(floor.shop.pin)
    page.keyboard.press("Enter")
    expect(page.locator(".signed-on")).to_contain_text("Munk")
    expect(page.locator("h1")).to_have_text("Today")
    assert complaints == []


def test_the_first_tab_leads_past_the_bar(page: Page, floor: Floor) -> None:
    page.goto("/shop/sign-on/")
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()


def test_a_form_left_alone_is_kept_and_goes_on_with_the_pin(page: Page, floor: Floor) -> None:
    page.goto("/shop/customers/add/")
    page.locator(".tile", has_text="Lorne").click()
    page.get_by_label("PIN").fill(floor.shop.pin)
    page.keyboard.press("Enter")
    page.get_by_label("Name").fill("Harbour Laundry")
    floor.clock.advance(timedelta(minutes=20))
    page.locator("main form button[type=submit]").click()
    expect(page.locator("h1")).to_contain_text("are you still there?")
    page.get_by_label("PIN").fill(floor.shop.pin)
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Harbour Laundry")
