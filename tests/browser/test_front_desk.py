"""A day at the front desk, through the screens: booking in, intake, quotation, hand-over."""

import io
import re

import pytest
from PIL import Image
from playwright.sync_api import FilePayload, Page, expect

from jobs.practice.pen import signature_of
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_in_the_field, sign_on, type_quotation, unfold
from tests.browser.stopwatch import Stopwatch

DESK = "Lorne"
PDF = b"%PDF-"
MOST_ACTS_TO_BOOK = 12
LINES = (
    {"kind": "labour", "text": "Pack down, lid off", "quantity": "4", "unit": "h"},
    {"kind": "part", "text": "Module, tested spare", "quantity": "1", "unit": "piece"},
)


@pytest.fixture
def desk(page: Page, floor: Floor) -> Page:
    """The desk's tablet, signed on, at Today."""
    sign_on(page, DESK, floor.shop.pin)
    return page


def photo() -> FilePayload:
    """Make a picture as a camera does."""
    kept = io.BytesIO()
    Image.new("RGB", (2400, 1800), "#446688").save(kept, "JPEG")
    return {"name": "front.jpg", "mimeType": "image/jpeg", "buffer": kept.getvalue()}


def pdf_behind(page: Page, name: str) -> bytes:
    """Fetch what a link leads to, as the browser signed on here."""
    address = page.get_by_role("link", name=name).first.get_attribute("href") or ""
    answer = page.request.get(address)
    assert answer.status == 200
    assert answer.headers["content-type"] == "application/pdf"
    return answer.body()


def pdf_words(file: bytes) -> str:
    pypdf = pytest.importorskip("pypdf")
    return " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(file)).pages)


def test_a_new_customer_and_vehicle_are_booked_in_on_one_form(
    desk: Page, complaints: Complaints
) -> None:
    desk.get_by_role("link", name="Book in").click()
    desk.get_by_role("searchbox").fill("Orchard Laundry")
    expect(desk.get_by_text("Nobody and nothing found")).to_be_visible()
    desk.get_by_role("link", name="New customer").click()
    expect(desk.get_by_label("Name (needed)")).to_have_value("Orchard Laundry")
    desk.get_by_label("Telephone").fill("0555 0177")
    desk.get_by_label("Agrees that these data are kept").check()
    desk.get_by_label("Plate").fill("PF 77 ORC")
    desk.get_by_label("Make").fill("Osk")
    desk.get_by_label("Model", exact=True).fill("Lumen")
    desk.get_by_role("group", name="Promised").get_by_label("In a week").check()
    desk.get_by_role("button", name="Open the job").click()
    expect(desk.locator("h1")).to_have_text("Intake")
    expect(desk.locator(".bar-plate")).to_have_text("PF 77 ORC")
    desk.goto("/jobs/?q=orchard")
    expect(desk.get_by_role("main")).to_contain_text("PF 77 ORC")
    assert complaints == []


def test_a_plate_that_somebody_else_has_is_said_and_nothing_typed_is_lost(
    desk: Page, floor: Floor
) -> None:
    desk.goto("/jobs/book/?new=1")
    desk.get_by_label("Name (needed)").fill("Second Owner")
    desk.get_by_label("Note").fill("Bought it last week")
    desk.get_by_label("Plate", exact=True).fill("pf 13 bus")
    desk.get_by_label("Make").fill("Varde")
    desk.get_by_role("button", name="Open the job").click()
    fault = desk.locator("#id_vehicle-plate_error, .field-faulty .fault").first
    expect(fault).to_contain_text("In the register already: PF 13 BUS")
    expect(fault).to_contain_text("Port Ferrin Dial-a-Ride")
    expect(desk.get_by_label("Name (needed)")).to_have_value("Second Owner")
    expect(desk.get_by_label("Note")).to_have_value("Bought it last week")
    expect(desk.get_by_label("Plate", exact=True)).to_have_value(
        re.compile("pf 13 bus", re.IGNORECASE)
    )
    desk.get_by_role("radio", name="Another vehicle").check()
    desk.get_by_role("button", name="Open the job").click()
    expect(desk.locator("h1")).to_have_text("Intake")
    desk.goto("/shop/vehicles/?q=PF+13+BUS")
    expect(desk.locator("#found")).to_contain_text("Second Owner")
    expect(desk.locator("#found")).to_contain_text("Port Ferrin Dial-a-Ride")


def book_known(desk: Page, plate: str) -> Stopwatch:
    """Book a known vehicle in from Today, counting."""
    watch = Stopwatch(desk)
    watch.tap(desk.get_by_role("link", name="Book in"))
    watch.fill(desk.get_by_role("searchbox"), plate)
    watch.tap(desk.locator(f'.large-choice:has-text("{plate}")').first)
    promised = desk.get_by_role("group", name="Promised")
    watch.tap(promised.get_by_text("In a week"))
    watch.tap(desk.get_by_role("button", name="Open the job"))
    expect(desk.locator("h1")).to_have_text("Intake")
    return watch


def enter(page: Page, item: str, words: str = "") -> None:
    """Enter an answer at the desk: ticked, written or pressed."""
    form = page.locator(f'form[data-item="intake.{item}"]')
    shape = form.get_attribute("data-entry")
    unfold(form)
    if shape in {"text", "personal", "reading"}:
        form.locator("[name=value]").fill(words)
    choice = f'button[value="{words}"]' if shape == "choice" else "button[type=submit]"
    form.locator(choice).click()
    expect(page.locator(f"#card-intake-{item.replace('_', '-')} form.entry:not([data-kind=strike])")
           ).to_have_count(0)  # fmt: skip


def test_a_known_customer_is_booked_in_quickly_and_intake_is_taken(
    desk: Page, complaints: Complaints
) -> None:
    assert book_known(desk, "PF 12 BUS").acts <= MOST_ACTS_TO_BOOK
    enter(desk, "arrived", "vehicle")
    enter(desk, "consent")
    enter(desk, "complaint", "It stops when it rains.")
    enter(desk, "price_cap", "480")
    authority = desk.locator('form[data-item="intake.authority"]')
    signed = signature_of("P. Ferrin")
    assert isinstance(signed, dict)
    sign_in_the_field(authority, signed)
    authority.get_by_role("button", name="Enter the signature").click()
    expect(desk.locator(".signed svg")).to_be_visible()
    take_photos(desk)
    assert complaints == []


def take_photos(desk: Page) -> None:
    """Send a file that is no picture, then one that is; what else was typed stays."""
    odometer = desk.locator('form[data-item="intake.odometer_km"] [name=value]')
    odometer.fill("64210")
    form = desk.locator('form[data-item="intake.arrival_photo"]')
    unfold(form)
    letter = FilePayload(name="letter.jpg", mimeType="image/jpeg", buffer=b"Dear workshop")
    form.locator("input[type=file]").set_input_files(letter)
    form.get_by_role("button", name="Add the picture").click()
    expect(form.locator(".answer")).to_contain_text(re.compile("picture|image", re.IGNORECASE))
    expect(odometer).to_have_value("64210")
    form.locator("input[type=file]").set_input_files(photo())
    form.get_by_role("button", name="Add the picture").click()
    picture = desk.locator("img.photo")
    expect(picture).to_be_visible()
    expect(odometer).to_have_value("64210")
    picture.scroll_into_view_if_needed()
    desk.wait_for_function("() => document.querySelector('img.photo').naturalWidth > 0")


def quote(desk: Page, form: str, prices: tuple[str, str], why: str = "") -> None:
    """Write the quotation with two lines, and save it."""
    editor = desk.locator(form)
    lines = [
        {**line, "unit_price": price, "tax_percent": "20"}
        for line, price in zip(LINES, prices, strict=True)
    ]
    type_quotation(editor, {"lines": lines, "not_included": "Towing."})
    if why:
        editor.get_by_label("Why is it changed?").fill(why)
    editor.locator("button[type=submit]").click()


def test_a_quotation_is_written_changed_approved_and_printed(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene, desk = floor.job("hatchback-waits", "fault_localisation.quotation"), page
    sign_on(desk, DESK, floor.shop.pin)
    desk.goto(f"/jobs/{scene.job}/fault_localisation/")
    quote(desk, 'form[data-entry="quotation"]', ("96", "1490"))
    expect(desk.locator(".quote-given > .quote-sums .quote-total")).to_contain_text("2 248.80 EUR")
    desk.get_by_text("Change the quotation").click()
    quote(desk, 'form[data-entry="quotation"][data-targets]', ("96", "1390"), "Cheaper spare")
    expect(desk.locator(".quote-given > .quote-sums .quote-total")).to_contain_text("2 128.80 EUR")
    expect(desk.get_by_text("Version 1, struck")).to_be_visible()
    words = pdf_words(pdf_behind(desk, "Version 2 as PDF"))
    assert "2 128.80" in words.replace("\xa0", " ").replace("\u202f", " ")
    approve(desk)
    expect(desk.locator(".quote-given").first).to_contain_text("Answer:")
    assert complaints == []


def approve(desk: Page) -> None:
    """Record that the customer approved."""
    desk.get_by_role("button", name="By telephone").click()
    who = desk.locator('form[data-item="fault_localisation.quote_who"]')
    expect(who.locator("textarea")).to_be_focused()
    who.locator("textarea").fill("H. Quill, by telephone just now")
    who.locator("button").click()
    expect(who).to_have_count(0)
    desk.get_by_role("button", name="Approved").click()


def test_a_finished_job_is_handed_over_with_signature_and_report(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene, desk = floor.job("hatchback-charger"), page
    sign_on(desk, DESK, floor.shop.pin)
    desk.locator(f'[data-section="collectable"] .due-job[href*="{scene.job}"]').click()
    form = desk.locator('form[data-kind="close"]')
    signed = signature_of("H. Quill")
    assert isinstance(signed, dict)
    sign_in_the_field(form, signed)
    form.get_by_label("PIN").fill(floor.shop.pin)
    form.get_by_role("button", name="Close the job").click()
    expect(form).to_have_count(0)
    assert pdf_behind(desk, "Report (PDF)").startswith(PDF)
    scene.kept, scene.head = None, ""
    assert scene.record().closed is not None
    assert complaints == []
