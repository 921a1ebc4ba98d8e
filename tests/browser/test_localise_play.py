"""Leaks followed home on the screen: from the closed lid, with a wrong reading, in the vehicle."""

from playwright.sync_api import Locator, Page, expect

from jobs.core.item import qualifier_parts
from jobs.core.leak_search import plug_links
from jobs.core.pack_side import points_now
from jobs.practice.bench import Pole
from jobs.practice.player import play
from jobs.practice.scene import Scene
from jobs.steps.isolation_readings.items import PACK, VEHICLE
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on
from tests.browser.test_measuring import (
    ISOLATION,
    LOCALISATION,
    MOST_READINGS,
    do_first,
    go,
    look_again,
    pass_hold,
    press_enter,
    proposed,
    qualifier_on,
    read_at_pole,
    tap_number,
    type_ohm,
)
from tests.browser.test_technician import TECHNICIAN, start

CLOSED_READINGS = 4


def read_closed(scene: Scene, qualifier: str) -> str:
    """Give what the meter shows at a point of the closed pack."""
    look_again(scene)
    parts, record = qualifier_parts(qualifier), scene.record()
    point = next(each for each in points_now(record) if each.name == parts["point"])
    plugs = plug_links(scene.pack)
    where = Pole(
        module=point.module,
        pole=point.pole,
        open_after=tuple(m.name for m in scene.pack.modules if m.name in plugs),
        shunt=scene.picked(PACK.shunt) if parts["shunt"] == "fitted" else None,
    )
    return scene.bench.pole_v(record, scene.picked(PACK.meter), where)


def tap_point(page: Page, volts: str, form: Locator) -> None:
    """Tap a figure into the form that is open, and wait until the page has it."""
    if not page.locator(".keypad").is_visible():
        form.locator("[name=value]").click()
    head = page.locator("[data-head]").get_attribute("data-head") or ""
    tap_number(page, volts)
    press_enter(page)
    expect(page.locator(f'[data-head="{head}"]')).to_have_count(0)


def tap_next(page: Page, scene: Scene) -> str:
    """Read what is proposed, or what is next where nothing was read yet; give its place."""
    link = proposed(page) if proposed(page).count() else page.locator("#panel .next a")
    link.click()
    expect(page.locator(f'form[data-item="{PACK.reading.key}"] [name=value]:focus')).to_have_count(
        1
    )
    form = page.locator(f'form[data-item="{PACK.reading.key}"]', has=page.locator(":focus"))
    place = form.get_attribute("data-qualifier") or ""
    tap_point(page, read_closed(scene, place), form)
    return place


def go_on(page: Page, floor: Floor, scene: Scene, until: str) -> None:
    """Let the others do what lies between, and sign on again after the pause."""
    look_again(scene)
    play(scene, until=until)
    sign_on(page, TECHNICIAN, floor.shop.pin)
    go(page, scene, until.partition(".")[0])


def test_a_coolant_leak_is_followed_from_the_closed_lid_to_its_module(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = start(page, floor, "van-coolant", PACK.reading.key)
    pass_hold(page, floor, scene, ISOLATION)
    taken = [tap_next(page, scene)]
    while proposed(page).count() and len(taken) < MOST_READINGS:
        taken.append(tap_next(page, scene))
    assert len(set(taken)) == len(taken)
    assert len(taken) == CLOSED_READINGS
    # The lid is still on: no module is named yet, and the map points at one.
    expect(page.locator("#panel svg desc").first).to_contain_text("M9")
    expect(page.locator("#panel .verdict")).not_to_contain_text("Named")
    go_on(page, floor, scene, f"{LOCALISATION}.link_opened")
    follow(page, floor, scene)
    expect(page.locator(".verdict")).to_contain_text("Named: M9.")
    expect(page.locator("#panel")).to_contain_text("readings with the links on both sides open")
    assert complaints == []


def follow(page: Page, floor: Floor, scene: Scene) -> None:
    """Tap what localisation proposes, acts and readings, until it proposes nothing more."""
    form = page.locator(f'form[data-item="{LOCALISATION}.reading"]')
    taken = 0
    while proposed(page).count() and taken < MOST_READINGS:
        if "First:" in proposed(page).inner_text():
            do_first(page, floor)
            continue
        proposed(page).click()
        expect(form.locator("[name=value]")).to_be_focused()
        tap_point(page, read_at_pole(scene, qualifier_on(form)), form)
        taken += 1


def test_an_accused_reading_is_struck_from_its_card_and_read_again(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = start(page, floor, "van-coolant", PACK.reading.key)
    pass_hold(page, floor, scene, ISOLATION)
    form = page.locator(f'.card-next form[data-item="{PACK.reading.key}"]')
    place = form.get_attribute("data-qualifier") or ""
    right = read_closed(scene, place)
    tap_point(page, f"-{right}", form)
    accused = page.locator("#suspect")
    expect(accused).to_contain_text("the sign is turned round")
    # Nothing is proposed on the strength of a reading that is in doubt.
    expect(proposed(page)).to_have_count(0)
    page.locator("#panel .suspect-first").click()
    accused.get_by_role("button", name="Strike it and read it again").click()
    expect(accused).to_have_count(0)
    again = page.locator(f'form[data-item="{PACK.reading.key}"][data-qualifier="{place}"]')
    expect(again.locator("[name=value]")).to_be_focused()
    struck = page.locator(".struck", has_text=f"\u2212{right}")
    expect(struck).to_contain_text("Fits none of the other readings: read again")
    tap_point(page, right, again)
    expect(page.locator(".given-newest")).to_contain_text(right)
    expect(accused).to_have_count(0)
    expect(proposed(page)).to_have_count(1)
    expect(struck).to_be_visible()
    assert complaints == []


def test_the_heater_is_named_once_the_rest_is_sound_without_it(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = start(page, floor, "hatchback-heater", VEHICLE.reading.key)
    go(page, scene, ISOLATION)
    panel, read = page.locator("#panel"), 0
    while "Named:" not in panel.inner_text() and read < MOST_READINGS:
        read += tap_vehicle(page, scene)
    expect(panel).to_contain_text("The vehicle's side leaks.")
    expect(panel).to_contain_text("Named: Cabin heater. With it unplugged")
    # Nothing more is proposed to be unplugged: the part is found.
    expect(panel.locator(".proposed", has_text="unplugged")).to_have_count(0)
    assert complaints == []


def tap_vehicle(page: Page, scene: Scene) -> int:
    """Do what is next on the vehicle's side; tell how many readings that were, one or none."""
    link = proposed(page) if proposed(page).count() else page.locator("#panel .next a")
    head = page.locator("[data-head]").get_attribute("data-head") or ""
    link.click()
    act = page.locator(":focus").locator("xpath=ancestor-or-self::form[1]")
    item = act.get_attribute("data-item")
    if item == VEHICLE.discharged.key:
        page.locator(":focus").click()
    else:
        assert item == VEHICLE.reading.key
        look_again(scene)
        unplugged, tester = qualifier_on(act)["unplugged"], scene.picked(VEHICLE.tester)
        type_ohm(page, scene.bench.vehicle_ohm(scene.record(), unplugged, tester))
    expect(page.locator(f'[data-head="{head}"]')).to_have_count(0)
    return int(item == VEHICLE.reading.key)
