"""A day of the manager, through the screens: Today, people, equipment, packs, spares, backups."""

import io
import re
from datetime import timedelta

import pytest
from playwright.sync_api import FilePayload, Page, expect
from reportlab.pdfgen.canvas import Canvas

from jobs.core.entry import Kind
from jobs.practice.scene import TECHNICIAN, Draft, Scene
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on

MANAGER = "Thorne"
LONG_MS = 30_000
METER_ITEM = "isolation_readings.pack_meter"
RATINGS = {
    "input_ohm": "10M",
    "input_tolerance_percent": "1",
    "accuracy_percent": "0.1",
    "accuracy_counts": "2",
    "resolution_v": "0.01",
    "rated_v": "1000",
}


@pytest.fixture
def office(page: Page, floor: Floor) -> Page:
    """The manager's screen, signed on, at Today."""
    sign_on(page, MANAGER, floor.shop.pin)
    return page


def certificate() -> FilePayload:
    """Make a certificate as a laboratory sends it."""
    kept = io.BytesIO()
    paper = Canvas(kept)
    paper.drawString(80, 700, "Calibration certificate")
    paper.save()
    return FilePayload(name="V7.pdf", mimeType="application/pdf", buffer=kept.getvalue())


def test_today_says_what_is_unsafe_and_what_is_overdue_and_leads_there(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = floor.job("minibus-not-found", "isolation_readings.live_gloves", promised_days=0)
    floor.clock.advance(timedelta(days=1))
    sign_on(page, MANAGER, floor.shop.pin)
    for section, words in (("unsafe", "Proof has lapsed"), ("overdue", "late")):
        row = page.locator(f'[data-section="{section}"] a[href*="{scene.job}"]')
        expect(row).to_contain_text(words)
    page.locator(f'[data-section="overdue"] a[href*="{scene.job}"]').click()
    expect(page.locator("h1")).to_have_text("Isolation readings")
    expect(page.locator(".hv strong")).to_contain_text("Proof has lapsed")
    assert complaints == []


def test_a_person_is_added_with_a_qualification(office: Page, complaints: Complaints) -> None:
    office.goto("/shop/people/")
    office.get_by_role("link", name="Add a person").click()
    office.get_by_label("Name (needed)", exact=True).fill("L. Sorrel")
    office.get_by_label("Short name").fill("Sorrel")
    office.get_by_label("Role").select_option("technician")
    office.get_by_role("button", name="Add").click()
    expect(office.locator("h1")).to_have_text("L. Sorrel")
    office.get_by_label("Qualification (needed)").select_option("live_work")
    office.get_by_label("Valid until").fill("2027-06-30")
    office.get_by_label("Certificate number").fill("PF-0042")
    office.get_by_label("Certificate as a file").set_input_files(certificate())
    office.get_by_role("button", name="Enter").click()
    expect(office.get_by_role("main")).to_contain_text("until 30 Jun 2027 (PF-0042)")
    assert complaints == []


def add_meter(office: Page, label: str) -> str:
    """Add a voltmeter with its certificate; give its identifier."""
    office.goto("/shop/equipment/add/meter/")
    office.get_by_label("Label").fill(label)
    for rating, typed in RATINGS.items():
        office.locator(f"[name={rating}]").fill(typed)
    office.get_by_label("Tested or calibrated on").fill("2026-02-20")
    office.get_by_label("Certificate number").fill("C-118")
    office.get_by_label("Certificate as a file").set_input_files(certificate())
    office.get_by_role("button", name="Add").click()
    expect(office.locator("h1")).to_contain_text(f"{label}: Voltmeter")
    expect(office.get_by_role("main")).to_contain_text("C-118")
    return office.url.rstrip("/").rpartition("/")[2]


def use(scene: Scene, meter: str) -> None:
    """Let the technician pick a meter in the job."""
    reply = scene.send(Draft(kind=Kind.VALUE, by=TECHNICIAN, item=METER_ITEM, value={"id": meter}))
    assert reply.verdict == "applied"


def test_a_meter_is_added_with_its_certificate_and_its_withdrawal_reaches_the_job(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene, office = floor.job("hatchback-declined", METER_ITEM), page
    sign_on(office, MANAGER, floor.shop.pin)
    meter = add_meter(office, "V7")
    use(scene, meter)
    office.reload()
    office.get_by_role("link", name="Withdraw from use").click()
    expect(office.get_by_role("main")).to_contain_text(scene.recipe.plate)
    office.get_by_label(re.compile("why|reason", re.IGNORECASE)).fill("Dropped on the floor")
    office.get_by_role("button", name="Withdraw from use and tell").click()
    office.goto(f"/jobs/{scene.job}/isolation_readings/")
    expect(office.get_by_role("main")).to_contain_text("Dropped on the floor")
    option = office.locator(f'form[data-item="{METER_ITEM}"] option', has_text="V7")
    expect(option.locator("visible=true")).to_have_count(0)
    assert complaints == []


def test_a_spare_is_moved_and_its_old_place_stays_in_the_history(office: Page) -> None:
    office.goto("/packs/spares/?q=V12-M10-0377")
    office.get_by_role("link", name="V12-M10-0377").click()
    office.get_by_role("link", name="Move", exact=True).click()
    office.get_by_label("Place").fill("Rack Z, shelf 9")
    for field in office.locator("main form textarea, main form input[name=note]").all():
        field.fill("Looked at again")
    office.get_by_role("button", name="Move").click()
    expect(office.locator(".timeline li").first).to_contain_text("Rack Z, shelf 9")
    expect(office.locator(".timeline li")).not_to_have_count(1)


def test_a_backup_by_hand_is_checked_and_today_says_so(
    office: Page, complaints: Complaints
) -> None:
    office.goto("/shop/backups/")
    office.get_by_role("button", name="Back up now").click()
    expect(office.get_by_role("main")).to_contain_text("checked", timeout=LONG_MS)
    office.goto("/")
    expect(office.locator('[data-section="backup"]')).to_contain_text(", checked.")
    assert complaints == []


def start_definition(office: Page) -> None:
    """Start a kind of pack from what can be counted."""
    office.goto("/packs/drafts/start/")
    office.get_by_label("Name of the pack").fill("Trial pack, 8 modules")
    office.get_by_label("Vehicles it is fitted to").fill("Trial vehicle")
    office.get_by_label("Cell chemistry").select_option(index=1)
    office.get_by_label("Number of modules").fill("8")
    office.get_by_label("Cells in series in each module").fill("12")
    office.get_by_label("Rows, side by side").fill("2")
    office.get_by_label("Plug lies after module number").fill("4")
    # The map is drawn while it is typed.
    expect(office.locator("#drawing")).to_contain_text("M8")
    office.get_by_role("button", name="Start").click()
    expect(office.locator("h1")).to_have_text("Trial pack, 8 modules")


def test_a_definition_is_started_from_its_topology_and_says_what_is_missing(
    office: Page, complaints: Complaints
) -> None:
    start_definition(office)
    expect(office.get_by_role("heading", name="Before this definition can be used")).to_be_visible()
    expect(office.get_by_role("link", name="Look at the differences")).to_have_count(0)
    lack = office.locator("main a[href*='/packs/drafts/'][href*='#']").first
    lack.click()
    expect(office.locator(":focus")).to_have_count(1)
    assert complaints == []


def test_a_definition_is_changed_compared_and_published(
    office: Page, complaints: Complaints
) -> None:
    office.goto("/packs/kinds/minibus/")
    office.get_by_role("button", name="Change by form").click()
    office.get_by_role("link", name="Disconnect, lid, seal test, cooling").click()
    office.get_by_label("Where the disconnect is found").fill("Orange plug under the driver's seat")
    office.get_by_role("button", name="Keep", exact=True).last.click()
    office.get_by_role("link", name="Look at the differences and publish").click()
    differences = office.get_by_role("main")
    expect(differences).to_contain_text("Orange plug in the step well of the sliding door")
    expect(differences).to_contain_text("Orange plug under the driver's seat")
    office.get_by_role("button", name="Publish").click()
    expect(office.locator("#note_error")).to_be_visible()
    office.get_by_label("What changed and why").fill("Seen at the second vehicle")
    office.get_by_role("button", name="Publish").click()
    expect(office.locator("h1")).to_contain_text("Varde Twelve minibus")
    expect(office.get_by_role("main")).to_contain_text("Revision 2")
    assert complaints == []
