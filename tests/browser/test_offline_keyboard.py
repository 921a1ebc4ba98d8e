"""Without a network and without a pointer: what waits is reached, read and sent by keys alone."""

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.floor import Floor
from tests.browser.test_outbox import FIRST, NOTHING, count_says, form_of, open_step, recorded
from tests.browser.test_without_network import kept

ContextAt = Callable[[str], BrowserContext]
MOST_STOPS = 150
# A scanner types faster than anybody; what a person types is no code.
SLOWLY_MS = 90
HERE = """() => {
  const at = document.activeElement, box = at.getBoundingClientRect(), seen = getComputedStyle(at);
  return {
    words: (at.getAttribute("aria-label") || at.labels?.[0]?.textContent || at.textContent || "")
      .replace(/\\s+/g, " ").trim(),
    queue: at.matches("[data-queue]"),
    item: at.closest("form")?.dataset.item ?? "",
    inside: Boolean(at.closest("main")),
    top: Math.round(box.top + scrollY),
    outlined: seen.outlineStyle !== "none" && parseFloat(seen.outlineWidth) > 0,
  };
}"""


class Keys:
    """Somebody at a keyboard: where they are, and each stop on the way there."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def stop(self, key: str = "Tab") -> dict[str, object]:
        """Go on by one and say where that is."""
        self.page.keyboard.press(key)
        here: dict[str, object] = self.page.evaluate(HERE)
        return here

    def until(self, name: str, wanted: object) -> list[dict[str, object]]:
        """Go on until something is reached; give the stops on the way, that one last."""
        stops: list[dict[str, object]] = []
        while len(stops) < MOST_STOPS:
            stops.append(self.stop())
            if stops[-1][name] == wanted:
                return stops
        raise AssertionError([each["words"] for each in stops])


def goes_down_the_page(stops: list[dict[str, object]]) -> None:
    """Ask that the keys lead over this tablet's page as one reads it, each stop seen."""
    words = [str(each["words"]) for each in stops]
    in_order = ["Send now", "Save unsent entries", "Take a saved file in", "Save the name"]
    assert [each for each in words if each in in_order] == in_order
    assert [each["top"] for each in stops] == sorted(int(str(each["top"])) for each in stops)
    assert all(each["outlined"] for each in stops)


@pytest.fixture
def page(context_at: ContextAt, floor: Floor) -> Page:
    return context_at(floor.address).new_page()


def test_what_waits_is_entered_found_and_sent_by_keys_alone(page: Page, floor: Floor) -> None:
    scene = open_step(page, floor)
    kept(page, "/tablet/")
    kept(page, f"/jobs/{scene.job}/isolation_readings/")
    page.context.set_offline(True)
    page.reload()
    expect(page.locator("[data-connected][data-off]")).to_have_text("not connected")
    keys = Keys(page)
    stops = keys.until("item", FIRST)
    # The queue stands in the bar, so it comes before the first field of the step.
    assert [each["queue"] for each in stops].count(True) == 1
    assert not any(each["inside"] for each in stops if each["queue"])
    form_of(page, FIRST).locator("[name=value]").focus()
    page.keyboard.type("19", delay=SLOWLY_MS)
    page.keyboard.press("Enter")
    count_says(page, "1 entry waits on this tablet")
    page.reload()
    keys.until("queue", wanted=True)
    assert page.evaluate(HERE)["outlined"]
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("This tablet")
    expect(page.locator("[data-tablet-waiting]")).to_contain_text("19")
    goes_down_the_page([each for each in keys.until("words", "Save the name") if each["inside"]])
    page.get_by_role("button", name="Send now").focus()
    page.keyboard.press("Enter")
    expect(page.locator("[data-tablet-said]")).to_have_text("1 still here.")
    page.context.set_offline(False)
    count_says(page, NOTHING)
    assert len(recorded(scene, FIRST)) == 1


def test_a_refused_entry_is_mended_by_keys_alone(page: Page, floor: Floor) -> None:
    scene = open_step(page, floor)
    page.context.set_offline(True)
    form_of(page, FIRST).locator("[name=value]").focus()
    page.keyboard.type("1900", delay=SLOWLY_MS)
    page.keyboard.press("Enter")
    count_says(page, "1 entry waits on this tablet")
    page.context.set_offline(False)
    expect(page.locator(".queued-refused")).to_contain_text("refused:")
    page.evaluate("() => document.activeElement.blur()")
    keys = Keys(page)
    keys.until("words", "Correct")
    page.keyboard.press("Enter")
    # Whoever corrects goes on typing at once.
    expect(form_of(page, FIRST).locator("[name=value]")).to_be_focused()
    page.keyboard.press("Control+a")
    page.keyboard.type("19", delay=SLOWLY_MS)
    page.keyboard.press("Enter")
    expect(form_of(page, FIRST)).to_have_count(0)
    count_says(page, NOTHING)
    assert len(recorded(scene, FIRST)) == 1
