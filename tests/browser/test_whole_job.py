"""One job from booking to hand-over, through the forms that the pages show on a tablet."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from functools import partial

from playwright.sync_api import BrowserContext, Locator, Page, expect

from jobs.core.entry import Kind
from jobs.practice.bench import Bench
from jobs.practice.player import play
from jobs.practice.scenario import recipe
from jobs.practice.scene import DESK, TECHNICIAN, Draft, Scene
from jobs.practice.tablet import Hand
from jobs.queries.records import grounds_in_force
from jobs.steps import STEPS
from jobs.steps.isolation_readings.items import HOLD, LIVE
from jobs.steps.seal_test.items import SAMPLE
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import BrowserTablet

RECIPE = "hatchback-module"
REPORT_STARTS = b"%PDF-"
HOLD_DRAFT = Draft(
    kind=Kind.HOLD, by=TECHNICIAN, value={"step": "isolation_readings", "hold": HOLD}
)


@dataclass
class Played:
    """A job being played in the browser: the scene, and the tablets of who plays."""

    scene: Scene
    desk: BrowserTablet

    def at(self, name: str = TECHNICIAN) -> BrowserTablet:
        """Give a person's tablet, with nothing to be sent yet."""
        tablet = self.scene.tablet(Draft(kind=Kind.VALUE, by=name))
        assert isinstance(tablet, BrowserTablet)
        return tablet

    def refresh(self, head: str) -> None:
        """Take note that the record went on without the player."""
        self.scene.kept, self.scene.head = None, head or self.scene.head


def book(desk: Page, floor: Floor) -> str:
    """Book the vehicle in at the front desk; give the job's identifier."""
    vehicle = floor.shop.vehicles[recipe(RECIPE).plate]
    desk.goto("/jobs/")
    desk.get_by_role("link", name="Book in").click()
    desk.get_by_role("searchbox").press_sequentially(recipe(RECIPE).plate.replace(" ", ""))
    desk.get_by_role("link", name=f"{vehicle.customer} {vehicle.title}").click()
    promised = desk.get_by_role("group", name="Promised")
    promised.get_by_label("Other day").check()
    # A day that is over is said at its field, and what was typed stays.
    promised.get_by_label("Promised for").fill("2026-02-27")
    desk.get_by_role("button", name="Open the job").click()
    expect(desk.get_by_label("Promised for")).to_have_value("2026-02-27")
    # Other tests of the floor may have moved its clock on by days.
    soon = (floor.clock.now() + timedelta(days=3)).date().isoformat()
    desk.get_by_label("Promised for").fill(soon)
    desk.get_by_role("button", name="Open the job").click()
    expect(desk.locator("h1")).to_have_text("Intake")
    found = re.search(r"/jobs/([0-9a-f-]{36})/", desk.url)
    assert found is not None
    return found[1]


def open_job(context: BrowserContext, new: Callable[[], BrowserContext], floor: Floor) -> Played:
    """Let the front desk book the job in, and give everybody a tablet that is not signed on."""
    desk = BrowserTablet(context.new_page(), "", floor.shop.people[DESK], floor.shop.pin)
    desk.sign_on()
    desk.job = book(desk.page, floor)

    def hand(person: str, pin: str) -> Hand:
        mine = desk.page if person == desk.person else new().new_page()
        return BrowserTablet(mine, desk.job, person, pin)

    scene = Scene(
        shop=floor.shop,
        job=desk.job,
        recipe=recipe(RECIPE),
        clock=floor.clock,
        bench=Bench(recipe(RECIPE), floor.shop.packs[recipe(RECIPE).pack]),
        grounds=grounds_in_force(),
        hand=hand,
    )
    return Played(scene, desk)


def answer_at(form: Locator) -> Locator:
    return form.locator(".answer")


def type_nonsense(played: Played, _scene: Scene) -> None:
    """A value that is refused stays in its field, with the reason beside it."""
    tablet = played.at(DESK)
    form = tablet.page.locator('form[data-item="intake.odometer_km"]')
    form.locator("input[name=value]").fill("64 thousand")
    form.locator("button").click()
    expect(answer_at(form)).not_to_be_empty()
    expect(form.locator("input[name=value]")).to_have_value("64 thousand")
    expect(form.locator("input[name=value]")).to_be_focused()
    expect(form.locator("input[name=value]")).to_have_attribute("aria-invalid", "true")


def type_a_note_and_something_else(played: Played, _scene: Scene) -> None:
    """What was typed into one card stays there when another card is sent."""
    page = played.at(DESK).page
    page.locator("#card-intake-note > .fold > summary").click()
    page.locator('form[data-item="intake.note"] textarea').fill("Ask about the roof rack")


def see_the_note(played: Played, _scene: Scene) -> None:
    note = played.at(DESK).page.locator('form[data-item="intake.note"] textarea')
    expect(note).to_be_visible()
    expect(note).to_have_value("Ask about the roof rack")


def sign_with_a_wrong_pin(played: Played, scene: Scene) -> None:
    """A wrong PIN is said at the field, with the tries that are left."""
    tablet = played.at()
    draft = Draft(
        kind=Kind.SIGN, by=TECHNICIAN, value={"step": "intake", "outcome": "done"}, pin="8520"
    )
    reply = tablet.post(scene.entry(draft, scene.new_key()))
    form = tablet.page.locator('form[data-kind="sign"]')
    assert reply.verdict == "pin"
    expect(answer_at(form)).to_have_text(f"That PIN is wrong. Tries left: {reply.tries_left}.")
    expect(form.locator('[name="pin"]')).to_be_focused()
    expect(form.locator('[name="pin"]')).to_have_attribute("aria-invalid", "true")


def follow_the_list(played: Played, _scene: Scene) -> None:
    """The hold point lists what is missing, offers no button, and leads to each point."""
    page = played.at().page
    played.at().show("isolation_readings")
    hold = page.locator(f"#hold-{HOLD}")
    expect(hold.get_by_text("Still missing before this act")).to_be_visible()
    expect(hold.locator("button[type=submit]")).to_have_count(0)
    link = hold.locator(".points a").first
    target = page.locator(link.get_attribute("href") or "")
    link.click()
    expect(target.locator(":focus")).to_have_count(1)
    band, card = page.locator(".hv").bounding_box(), target.bounding_box()
    assert band is not None
    assert card is not None
    assert card["y"] >= band["y"] + band["height"]


def pass_too_early(played: Played, scene: Scene) -> None:
    """A page left open on another tablet asks for a hold point whose grounds have gone since."""
    tablet = played.at()
    tablet.show("isolation_readings")
    other = scene.hand(tablet.person, tablet.pin)
    assert isinstance(other, BrowserTablet)
    other.sign_on()
    stale = other.page
    stale.goto(tablet.page.url)
    expect(stale.locator('form[data-kind="hold"]')).to_have_count(1)
    scene.strike(LIVE.air_test, "One glove had been folded")
    reply = tablet.press(scene.entry(HOLD_DRAFT, scene.new_key()), stale)
    assert reply.verdict == "refused"
    assert "missing" in reply.codes
    expect(answer_at(stale.locator('form[data-kind="hold"]'))).to_contain_text("air-tested")
    stale.close()
    played.refresh(reply.head)
    tablet.page.reload()
    expect(tablet.page.locator(".struck")).to_contain_text("One glove had been folded")


def take_one_sample(played: Played, scene: Scene) -> None:
    """A sample says its second by itself; it is struck again, because the whole series follows."""
    tablet = played.at()
    sample = {"gauge": "2900", "temp_c": "20.0", "barometer": "1013"}
    draft = Draft(kind=Kind.VALUE, by=TECHNICIAN, item="seal_test.sample", value=sample)
    reply = tablet.post(scene.entry(draft, scene.new_key()))
    assert reply.verdict == "applied"
    played.refresh(reply.head)
    (given,) = scene.record().all(SAMPLE)
    reply = tablet.post(
        scene.entry(
            Draft(
                kind=Kind.STRIKE,
                by=TECHNICIAN,
                value={"key": given.entry.key, "reason": "The hose came off"},
            ),
            scene.new_key(),
        )
    )
    assert reply.verdict == "applied"
    played.refresh(reply.head)


CHECKS: dict[str, Callable[[Played, Scene], None]] = {
    "intake.stands": type_a_note_and_something_else,
    "intake.keys": see_the_note,
    "intake.odometer_km": type_nonsense,
    "sign intake": sign_with_a_wrong_pin,
    "isolation_readings.live_gloves": follow_the_list,
    f"hold isolation_readings {HOLD}": pass_too_early,
    "seal_test.samples": take_one_sample,
}
"""What is looked at on the way, by the item, hold point or signature before which it happens."""


def assert_report(played: Played) -> None:
    """The report opens from the job's page as a PDF."""
    page = played.desk.page
    address = page.get_by_role("link", name="Report (PDF)").get_attribute("href") or ""
    answer = page.request.get(address)
    assert answer.status == 200
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.body().startswith(REPORT_STARTS)


def assert_bands(played: Played) -> None:
    """The band on the technician's tablet said each state in its words, in the order of the job."""
    said = played.at().bands
    states = [
        "High voltage not proven dead",
        "Circuit outside the pack proven dead",
        "Pack open: live parts cannot be switched off",
        "Proof has lapsed",
    ]
    places = [
        next(place for place, words in enumerate(said) if words.startswith(state))
        for state in states
    ]
    assert places == sorted(places)


def test_a_whole_job_runs_in_the_browser_from_booking_to_hand_over(
    context_at: Callable[[str], BrowserContext], floor: Floor, complaints: Complaints
) -> None:
    new = partial(context_at, floor.address)
    played = open_job(new(), new, floor)
    played.scene.mishaps = {name: partial(check, played) for name, check in CHECKS.items()}
    play(played.scene)
    record = played.scene.record()
    assert not played.scene.mishaps
    assert record.closed is not None
    assert set(record.signatures) == {step.slug for step in STEPS}
    expect(played.desk.page.locator(".step-done")).to_have_count(len(STEPS))
    assert played.at().unlocked > 0
    assert_bands(played)
    assert_report(played)
    assert complaints == []
