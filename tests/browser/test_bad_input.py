"""What is typed wrong is said at its field, stays there to be mended, and is stored nowhere."""

from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import Locator, Page, expect

from jobs.steps.isolation_readings.items import PACK
from jobs.steps.seal_test.items import SAMPLES
from jobs.steps.seal_test.items import SLUG as SEAL
from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import stored, unfold
from tests.browser.test_measuring import ISOLATION, go, pass_hold
from tests.browser.test_technician import form_of, start

PHOTO_BYTES = 40 * 1024 * 1024
FALLING = "0; 3000; 20.4; 101325\n120; 2996; 20.4; 101325\n60; 2998; 20.4; 101325"
RISING = "0; 3000; 20.4; 101325\n60; 2998; 20.4; 101325\n120; 2996; 20.4; 101325"


def type_in(form: Locator, typed: str) -> Locator:
    """Type into a form's field; give the field."""
    field = form.locator("[name=value]")
    field.fill(typed)
    return field


def refused(form: Locator, typed: str, said: str) -> None:
    """Send what is typed: it is refused at the field with these words, and stays there."""
    field = type_in(form, typed)
    form.locator("button[type=submit]").click()
    expect(form.locator(".answer")).to_contain_text(said)
    expect(field).to_have_value(typed)
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_be_focused()


def mended(page: Page, form: Locator, typed: str, shown: str) -> None:
    """Correct it where it stands: it is taken."""
    type_in(form, typed)
    form.locator("button[type=submit]").click()
    expect(page.locator(".given", has_text=shown).first).to_be_visible()


def test_a_reading_beyond_the_instrument_is_doubted_and_one_beyond_sense_refused(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = start(page, floor, "van-coolant", PACK.reading.key)
    pass_hold(page, floor, scene, ISOLATION)
    form = page.locator(f'.card-next form[data-item="{PACK.reading.key}"]')
    place = form.get_attribute("data-qualifier") or ""
    before = stored(scene)
    type_in(form, "1200")
    expect(form.locator(".means")).to_contain_text("V1 shows no more than 1000 V. Read the display")
    refused(form, "2200", "2200 is outside -1500 to 1500 V. Check the unit.")
    assert stored(scene) == before
    form = page.locator(f'form[data-item="{PACK.reading.key}"][data-qualifier="{place}"]')
    mended(page, form, "1.84", "1.84")
    assert stored(scene) == before + 1
    assert complaints == []


def test_a_reading_in_another_unit_is_refused_and_mended_in_its_own(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = start(page, floor, "van-coolant", PACK.string_v.key)
    go(page, scene, ISOLATION)
    form, before = form_of(page, PACK.string_v.key), stored(scene)
    refused(form, "298600 mV", "Small m is not taken: write the number out in its own unit.")
    refused(form, "298.6 A", "“298.6 A” is not a number in V.")
    assert stored(scene) == before
    mended(page, form, "298.6", "298.6")
    assert stored(scene) == before + 1
    assert complaints == []


def test_readings_in_the_wrong_order_are_refused_and_the_rows_stay(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    scene = start(page, floor, "van-seal", "seal_test.sample")
    go(page, scene, SEAL)
    form, before = form_of(page, SAMPLES.key), stored(scene)
    unfold(form)
    refused(form, FALLING, "times must rise")
    assert stored(scene) == before
    mended(page, form, RISING, "3 samples")
    assert stored(scene) == before + 1
    assert complaints == []


def a_file(folder: Path, name: str, begins: bytes) -> Path:
    """Write a file of 40 MB."""
    path = folder / name
    path.write_bytes(begins.ljust(PHOTO_BYTES, b"\0"))
    return path


def test_a_file_of_40_mb_that_is_no_picture_is_said_at_the_field(
    page: Page, floor: Floor, tmp_path: Path
) -> None:
    scene = start(page, floor, "van-harness", "intake.stands")
    go(page, scene, "intake")
    form, before = form_of(page, "intake.arrival_photo"), stored(scene)
    unfold(form)
    field = form.locator('input[type="file"]')
    field.set_input_files(a_file(tmp_path, "whole-van.jpg", b"no picture"))
    form.get_by_role("button", name="Add the picture").click()
    expect(form.locator(".answer")).to_contain_text("The picture is larger than 12 MB.")
    assert field.evaluate("(each) => each.files[0].name") == "whole-van.jpg"
    assert stored(scene) == before


def test_a_true_picture_of_40_mb_is_made_small_on_the_tablet_and_taken(
    page: Page, floor: Floor, tmp_path: Path, complaints: Complaints
) -> None:
    scene, drawn = start(page, floor, "van-harness", "intake.stands"), BytesIO()
    Image.new("RGB", (2400, 1800), "teal").save(drawn, "JPEG")
    go(page, scene, "intake")
    form, before = form_of(page, "intake.arrival_photo"), stored(scene)
    unfold(form)
    field = form.locator('input[type="file"]')
    field.set_input_files(a_file(tmp_path, "whole-van.jpg", drawn.getvalue()))
    form.get_by_role("button", name="Add the picture").click()
    shown = page.locator(".given img.photo")
    expect(shown).to_have_count(1)
    shown.scroll_into_view_if_needed()
    expect(shown).to_have_js_property("naturalWidth", 1600)
    assert stored(scene) == before + 1
    assert complaints == []
