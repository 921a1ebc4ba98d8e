"""A tablet is enrolled by a code, turned away while an entry waits on it, and enrolled again."""

from collections.abc import Callable

from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.floor import Floor
from tests.browser.hands import sign_on
from tests.browser.test_outbox import FIRST, count_says, enter, open_step, recorded

ContextAt = Callable[[str], BrowserContext]
MANAGER = "Thorne"


def a_code(manager: Page) -> str:
    manager.goto("/shop/devices/")
    manager.get_by_role("button", name="Make a code").click()
    return manager.locator(".device-code").inner_text()


def enrol(tablet: Page, code: str, name: str) -> None:
    tablet.get_by_label("Code").fill(code)
    tablet.get_by_label("Name of this device").fill(name)
    tablet.get_by_role("button", name="Enrol").click()
    expect(tablet.get_by_role("heading", name="Who is working here?")).to_be_visible()


def test_an_entry_waits_on_a_tablet_turned_away_until_it_is_enrolled_again(
    context_at: ContextAt, floor: Floor
) -> None:
    manager, tablet = context_at(floor.address).new_page(), context_at(floor.address).new_page()
    sign_on(manager, MANAGER, floor.shop.pin)
    tablet.goto("/shop/sign-on/")
    tablet.get_by_role("link", name="Enrol this device").click()
    enrol(tablet, a_code(manager).lower().replace("-", " "), "Tablet bay 3")
    scene = open_step(tablet, floor)

    # Hours have passed in the workshop: the office asks who is there.
    sign_on(manager, MANAGER, floor.shop.pin)
    manager.goto("/shop/devices/")
    manager.get_by_role("link", name="Tablet bay 3").click()
    manager.get_by_role("button", name="Turn away").click()
    expect(manager.get_by_role("row", name="Tablet bay 3")).to_contain_text("turned away")
    enter(tablet, FIRST, "21.4")
    expect(tablet.get_by_text("waits on this tablet, which is not enrolled")).to_be_visible()
    count_says(tablet, "1 entry waits on this tablet")
    assert recorded(scene, FIRST) == []

    tablet.goto("/")
    expect(tablet.get_by_text("was turned away")).to_be_visible()
    expect(tablet.get_by_text("treat every high-voltage part as live")).to_be_visible()
    enrol(tablet, a_code(manager), "Tablet bay 3")
    sign_on(tablet, "Aster", floor.shop.pin)
    count_says(tablet, "0 entries wait on this tablet")
    assert [value["typed"] for _, value in recorded(scene, FIRST)] == ["21.4"]
    manager.context.close()
    tablet.context.close()
