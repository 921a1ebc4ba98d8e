"""Measuring on the tablet by taps: keypad, recorder, scanner, alarm, two leaks followed home."""

import re
from math import exp

from playwright.sync_api import Locator, Page, expect

from jobs.core.item import qualifier_parts
from jobs.core.leak_search import plug_links
from jobs.practice.bench import Pole
from jobs.practice.scene import Scene
from jobs.steps.isolation_readings.items import PACK, VEHICLE
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.test_technician import form_of, start

ISOLATION, LOCALISATION = "isolation_readings", "fault_localisation"
MOST_READINGS, TARGET_PX = 14, 48
# Counts tones instead of sounding them.
COUNT_TONES = """() => {
  window.tones = 0;
  const make = AudioContext.prototype.createOscillator;
  AudioContext.prototype.createOscillator = function () {
    window.tones += 1;
    return make.call(this);
  };
}"""
# Keys of a scanner, each doing in the focused field what a browser does with it.
SCANNER = """(code) => {
  const aim = document.activeElement ?? document.body;
  const strike = (key) => aim.dispatchEvent(
    new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
  for (const key of code) {
    if (strike(key) && "value" in aim) {
      aim.value += key;
      aim.dispatchEvent(new Event("input", { bubbles: true }));
    }
  }
  if (strike("Enter") && aim.form) aim.form.requestSubmit();
}"""
# Where the card stands in which the next figure goes [px from the top of the screen].
WHERE = "() => document.querySelector('.card-next').getBoundingClientRect().top"


def tap_number(page: Page, typed: str) -> None:
    """Tap a number key by key on the keypad that is open."""
    pad = page.locator(".keypad")
    for key in typed.lstrip("-"):
        pad.locator(f'[data-key="{key}"]').click()
    if typed.startswith("-"):
        pad.locator('[data-key="sign"]').click()


def press_enter(page: Page) -> None:
    page.locator('.keypad [data-key="enter"]').click()


def go(page: Page, scene: Scene, slug: str) -> None:
    page.goto(f"/jobs/{scene.job}/{slug}/")


def look_again(scene: Scene) -> None:
    """Let the scene read its record anew: the tablet went on without it."""
    scene.head, scene.kept = "", None


def test_a_number_is_tapped_shown_back_and_refused_at_the_field_with_what_is_wrong(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    item = PACK.string_v.key
    scene = start(page, floor, "van-coolant", item)
    go(page, scene, ISOLATION)
    field = form_of(page, item).locator("[name=value]")
    field.click()
    pad = page.locator(".keypad")
    tap_number(page, "2,9,86")
    expect(pad.locator('[data-keypad="shown"]')).to_have_text("2,986")
    expect(pad.locator('[data-keypad="means"]')).to_contain_text("2.986 V")
    expect(pad.locator('[data-keypad="means"]')).to_contain_text("slip of a thousand")
    pad.locator('[data-key="clear"]').click()
    page.keyboard.type("1.000,5")
    expect(pad.locator('[data-keypad="means"]')).to_contain_text("Thousands are not parted")
    press_enter(page)
    expect(form_of(page, item).locator(".answer")).to_contain_text("is not a number in V")
    expect(field).to_have_value("1.000,5")
    expect(field).to_have_attribute("aria-invalid", "true")
    pad.locator('[data-key="clear"]').click()
    tap_number(page, "298.6")
    press_enter(page)
    expect(page.locator(".given-newest")).to_contain_text("298.6")
    # A hold point is next: no number, so the keypad goes and the focus is ready there.
    expect(pad).to_be_hidden()
    expect(page.locator(".hold :focus")).to_have_count(1)
    assert complaints == []


def test_over_range_and_kilohms_are_taps(page: Page, floor: Floor, complaints: Complaints) -> None:
    scene = start(page, floor, "hatchback-heater", VEHICLE.reading.key)
    go(page, scene, ISOLATION)
    form = page.locator(f'form[data-item="{VEHICLE.reading.key}"]').first
    form.locator("[name=value]").click()
    pad = page.locator(".keypad")
    tap_number(page, "450")
    expect(pad.locator('[data-keypad="means"]')).to_contain_text("Were kΩ or MΩ meant?")
    pad.locator('[data-key-prefix="k"]').click()
    expect(pad.locator('[data-keypad="unit"]')).to_have_text("kΩ")
    expect(pad.locator('[data-keypad="means"]')).to_have_text("450 kΩ")
    pad.locator('[data-key="clear"]').click()
    page.keyboard.type("2.2M")
    expect(pad.locator('[data-key-prefix="M"]')).to_have_attribute("aria-pressed", "true")
    pad.locator('[data-key="clear"]').click()
    tap_number(page, "550")
    pad.locator('[data-key-prefix="M"]').click()
    pad.locator('[data-key-compare=">"]').click()
    expect(pad.locator('[data-keypad="means"]')).to_have_text("more than 550 MΩ")
    press_enter(page)
    expect(page.locator(".given-newest")).to_contain_text("more than 550 MΩ")
    assert complaints == []


def test_readings_go_in_one_after_another_and_nothing_jumps(page: Page, floor: Floor) -> None:
    scene = start(page, floor, "van-coolant", PACK.reading.key)
    pass_hold(page, floor, scene, ISOLATION)
    form = page.locator(f'.card-next form[data-item="{PACK.reading.key}"]')
    form.locator("[name=value]").click()
    for typed in ("1.84", "0.05"):
        taken = form.get_attribute("data-qualifier") or ""
        tap_number(page, typed)
        press_enter(page)
        expect(form).not_to_have_attribute("data-qualifier", taken)
        expect(form.locator("[name=value]")).to_be_focused()
        expect(page.locator(".keypad")).to_be_visible()
        # Between the band and the keypad: ready without a scroll.
        clear = page.locator(".keypad").bounding_box()
        assert clear is not None
        assert 0 < page.evaluate(WHERE) < clear["y"] - TARGET_PX
    expect(page.locator(".given", has_text="0.05")).to_have_count(1)


def pass_hold(page: Page, floor: Floor, scene: Scene, slug: str) -> None:
    """Pass the hold point that is next, by PIN."""
    go(page, scene, slug)
    hold = page.locator(".hold form")
    hold.get_by_label("PIN").fill(floor.shop.pin)
    hold.get_by_role("button", name="Confirm the hold point").click()
    expect(page.locator(".hold form")).to_have_count(0)


def take_reading(page: Page, form: Locator) -> None:
    """Tap, look at the meter at that moment, tap its figure: 1 V behind 4 s."""
    form.locator("[data-take]").click()
    at_s = float(form.locator("[data-stamp]").inner_text().removesuffix(" s"))
    tap_number(page, f"{1.0 + 59.0 * exp(-at_s / 4.0):.2f}")
    press_enter(page)
    expect(form.locator("[name=add_value]")).to_have_value("")
    page.clock.run_for(6000)


def test_a_settling_is_recorded_by_taps_until_it_says_enough_and_survives_a_reload(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    page.clock.install()
    scene = start(page, floor, "van-coolant", PACK.reading.key)
    pass_hold(page, floor, scene, ISOLATION)
    fold = page.locator(".card-series details.fold").first
    fold.locator("> summary").click()
    form = fold.locator("form")
    says = form.locator("[data-says]")
    take_reading(page, form)
    expect(says).to_contain_text("2 more readings")
    take_reading(page, form)
    take_reading(page, form)
    expect(form.locator("svg title")).to_have_text("Settling curve")
    page.reload()
    fold.locator("> summary").click()
    expect(form.locator("svg desc")).to_contain_text("3 readings over")
    for _ in range(4):
        take_reading(page, form)
    expect(says).to_contain_text("Enough:")
    expect(says).to_contain_text("floating")
    page.locator('.keypad [data-key="close"]').click()
    form.get_by_role("button", name="Done: enter the series").click()
    expect(page.locator(".given", has_text="7 samples over")).to_be_visible()
    assert complaints == []


def test_one_reading_every_five_seconds_beeps_and_goes_on_without_a_connection(
    page: Page, floor: Floor
) -> None:
    page.clock.install()
    page.add_init_script(f"({COUNT_TONES})()")
    scene = start(page, floor, "van-coolant", PACK.reading.key)
    pass_hold(page, floor, scene, ISOLATION)
    fold = page.locator(".card-series details.fold").first
    fold.locator("> summary").click()
    form = fold.locator("form")
    form.locator("[data-beat]").click()
    page.context.set_offline(True)
    for typed in ("60", "40", "30"):
        tap_number(page, typed)
        press_enter(page)
        page.clock.run_for(5000)
    expect(form.locator("[data-says]")).to_contain_text("rows are kept on this tablet")
    assert page.evaluate("window.tones") >= 3
    seconds = [row.partition(";")[0] for row in form.locator("textarea").input_value().splitlines()]
    assert [round(float(each) / 5) for each in seconds] == [0, 1, 2]
    page.context.set_offline(False)
    page.reload()
    assert form.locator("textarea").input_value().count("\n") == len(seconds)


def scan(page: Page, code: str) -> None:
    """Type as a scanner does, faster than a driven keyboard on a busy machine can."""
    page.evaluate(SCANNER, code)


def test_a_scan_goes_to_the_open_pick_and_sends_nothing_else(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = start(page, floor, "van-coolant", PACK.meter.key)
    go(page, scene, ISOLATION)
    told = page.locator("[data-scan-said]")
    scan(page, "NO-SUCH-7")
    expect(told).to_contain_text("“NO-SUCH-7” is no equipment")
    other = form_of(page, "isolation_readings.temperature_c").locator("[name=value]")
    other.fill("19")
    scan(page, "VM-4410")
    expect(page.locator(".given-newest")).to_contain_text("V1")
    expect(other).to_have_value("19")
    scan(page, "GL-0-118")
    expect(told).to_contain_text("G1 is not asked for on this page")
    assert complaints == []


def set_back(page: Page, end: str, before_ms: int) -> None:
    """Let the server's clock stand so long before the end, as a page loaded then has it."""
    script = """([end, before]) => { document.querySelector('[data-server-now]').dataset.serverNow =
        new Date(Date.parse(end) - before).toISOString(); }"""
    page.evaluate(script, [end, before_ms])


def test_a_waiting_time_that_is_over_alarms_once_by_ear_and_eye(page: Page, floor: Floor) -> None:
    page.add_init_script(f"({COUNT_TONES})()")
    scene = start(page, floor, "van-coolant", "de_energise_check.gloves")
    go(page, scene, "de_energise_check")
    count, alarm = page.locator(".count[data-until]"), page.locator("[data-alarm]")
    expect(count).to_contain_text("Waiting time")
    end = count.get_attribute("data-until") or ""
    page.locator("h1").click()
    set_back(page, end, 8000)
    expect(count.locator("[data-left]")).to_have_text(re.compile("^0:0[3-7]$"))
    expect(alarm).to_be_hidden()
    expect(alarm).to_contain_text("The waiting time is over.")
    expect(alarm).to_be_visible()
    assert page.evaluate("window.tones") >= 1
    alarm.get_by_role("button", name="Heard").click()
    expect(alarm).to_be_hidden()
    page.reload()
    page.locator("h1").click()
    set_back(page, end, 1000)
    expect(count.locator("[data-left]")).to_have_text("The waiting time is over.")
    expect(alarm).to_be_hidden()
    assert page.evaluate("window.tones") == 0
    sound = page.get_by_role("button", name="Alarm sound")
    sound.click()
    page.reload()
    expect(sound).to_have_attribute("aria-pressed", "false")


def proposed(page: Page) -> Locator:
    return page.locator("#panel .proposed-best")


def qualifier_on(form: Locator) -> dict[str, str]:
    """Read which one of the collection the form is about to take."""
    fixed = form.get_attribute("data-qualifier") or ""
    if fixed:
        return qualifier_parts(fixed)
    chosen = form.locator("[data-part]")
    return {box.get_attribute("data-part") or "": box.input_value() for box in chosen.all()}


def read_at_pole(scene: Scene, parts: dict[str, str]) -> str:
    """Give what the meter shows where the tablet says."""
    look_again(scene)
    links = [] if parts["open"] == "none" else parts["open"].split("+")
    opened = {*links, *plug_links(scene.pack)}
    where = Pole(
        module=parts["module"],
        pole=parts["pole"],
        open_after=tuple(m.name for m in scene.pack.modules if m.name in opened),
        shunt=scene.picked(PACK.shunt) if parts["shunt"] == "fitted" else None,
    )
    return scene.bench.pole_v(scene.record(), scene.picked(PACK.meter), where)


def do_first(page: Page, floor: Floor) -> None:
    """Tap what comes before the reading: the hold point, or the link to be opened and ticked."""
    proposed(page).click()
    place = page.locator(":focus")
    act = place.locator("xpath=ancestor-or-self::form[1]")
    if act.get_attribute("data-kind") == "hold":
        act.get_by_label("PIN").fill(floor.shop.pin)
        act.get_by_role("button", name="Confirm the hold point").click()
        expect(page.locator(".hold form")).to_have_count(0)
        return
    entered = page.locator(".given").count()
    place.click()
    expect(page.locator(".given")).not_to_have_count(entered)


def test_a_coolant_leak_is_followed_to_its_module_by_tapping_what_is_proposed(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = start(page, floor, "van-coolant", "fault_localisation.link_opened")
    go(page, scene, LOCALISATION)
    taken = 0
    while proposed(page).count() and taken < MOST_READINGS:
        if "First:" in proposed(page).inner_text():
            do_first(page, floor)
            continue
        head = page.locator("[data-head]").get_attribute("data-head") or ""
        proposed(page).click()
        field = page.locator(f'form[data-item="{LOCALISATION}.reading"] [name=value]')
        expect(field).to_be_focused()
        form = page.locator(f'form[data-item="{LOCALISATION}.reading"]')
        tap_number(page, read_at_pole(scene, qualifier_on(form)))
        press_enter(page)
        expect(page.locator(f'[data-head="{head}"]')).to_have_count(0)
        taken += 1
    assert taken >= 1
    expect(page.locator(".verdict")).to_contain_text("Named: M9")
    expect(page.locator("#panel")).to_contain_text("readings with the links on both sides open")
    expect(page.locator("#panel svg desc").first).to_contain_text("M9")
    assert complaints == []


def test_a_leak_in_the_cabin_heater_is_followed_home_part_by_part(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = start(page, floor, "hatchback-heater", VEHICLE.reading.key)
    go(page, scene, ISOLATION)
    entered = 0
    while "leaks" not in page.locator(".verdict").all_inner_texts() and entered < MOST_READINGS:
        link = proposed(page)
        if not link.count():
            link = page.locator("#panel .next a")
        name = link.inner_text()
        if VEHICLE.lead_proof.label in name or "Where the leak is" in name:
            break
        head = page.locator("[data-head]").get_attribute("data-head") or ""
        link.click()
        act = page.locator(":focus").locator("xpath=ancestor-or-self::form[1]")
        if act.get_attribute("data-item") == VEHICLE.discharged.key:
            page.locator(":focus").click()
        else:
            unplugged = qualifier_on(act)["unplugged"]
            look_again(scene)
            tester = scene.picked(VEHICLE.tester)
            type_ohm(page, scene.bench.vehicle_ohm(scene.record(), unplugged, tester))
        expect(page.locator(f'[data-head="{head}"]')).to_have_count(0)
        entered += 1
    expect(page.locator("#panel")).to_contain_text("The vehicle's side leaks.")
    look_again(scene)
    assert scene.record().has(VEHICLE.reading)
    read = {given.part("unplugged") for given in scene.record().all(VEHICLE.reading)}
    assert "Cabin heater" in read
    assert complaints == []


def type_ohm(page: Page, typed: str) -> None:
    """Tap what a tester shows: a bound, digits, a prefix."""
    pad = page.locator(".keypad")
    if not pad.count() or not pad.is_visible():
        page.locator(":focus").click()
    bound, digits = (typed[0], typed[1:]) if typed[0] in "<>" else ("", typed)
    prefix = digits[-1] if digits[-1] in "kM" else ""
    tap_number(page, digits.rstrip("kM"))
    if prefix:
        pad.locator(f'[data-key-prefix="{prefix}"]').click()
    if bound:
        pad.locator(f'[data-key-compare="{bound}"]').click()
    press_enter(page)
