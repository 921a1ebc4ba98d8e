"""The desk and the money: optional lines, growth over what was approved, versions, the CSV."""

import csv
import io
import re
from pathlib import Path

from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import Complaints
from tests.browser.floor import Floor
from tests.browser.hands import sign_on, type_quotation, unfold

DESK, SLUG = "Lorne", "fault_localisation"
LINES = (
    {"kind": "labour", "text": "Pack down, lid off", "quantity": "4", "unit": "h"},
    {"kind": "part", "text": "Module, tested spare", "quantity": "1", "unit": "piece"},
    {"kind": "other", "text": "Drain plugs", "quantity": "1", "unit": "set"},
    {"kind": "discount", "text": "Returning customer", "quantity": "1", "unit": "piece"},
)


def quote(editor: Locator, module_price: str, why: str = "") -> None:
    """Write the four lines, of which one is optional, one the insurer's and one taken off."""
    prices = ("96", module_price, "30", "50")
    lines = [
        {**line, "unit_price": price, "tax_percent": "20"}
        for line, price in zip(LINES, prices, strict=True)
    ]
    lines[1]["payer"] = "insurer"
    lines[2]["optional"] = "yes"
    type_quotation(editor, {"lines": lines})
    if why:
        editor.get_by_label("Why is it changed?").fill(why)
    editor.locator("button[type=submit]").click()


def form_of(page: Page, item: str, more: str = "") -> Locator:
    return page.locator(f'form[data-item="{SLUG}.{item}"][data-kind="value"]{more}')


def answered_by(page: Page, who: str) -> None:
    """Say how the answer came and from whom."""
    page.get_by_role("button", name="By telephone").click()
    form = form_of(page, "quote_who")
    form.locator("textarea").fill(who)
    form.locator("button").click()
    expect(form).to_have_count(0)


def approve(page: Page) -> Locator:
    form = form_of(page, "answer")
    form.get_by_role("button", name="Approved").click()
    return form.locator(".answer")


def comes_to(page: Page, amount: str) -> None:
    """Say what the work comes to by now."""
    form = form_of(page, "cost_now")
    unfold(form)
    form.locator("[name=value]").fill(amount)
    form.locator("button[type=submit]").click()
    expect(page.locator(".given", has_text=re.compile(amount[-3:])).first).to_be_visible()


def strike(page: Page, label: str, item: str) -> None:
    """Strike what was entered for an item, so that it is asked again."""
    struck = page.locator("details.strike", has_text=label)
    struck.locator("summary").click()
    struck.get_by_label("Why is it struck?").fill("It grew")
    struck.get_by_role("button", name="Strike with this reason").click()
    expect(form_of(page, item).first).to_be_visible()


def first_version(page: Page) -> None:
    """Write a version, be refused an approval by nobody and with open options, have it approved."""
    quote(page.locator('form[data-entry="quotation"]'), "1000")
    sums = page.locator(".quote-given > .quote-sums")
    expect(sums.locator(".quote-total")).to_contain_text("1 600.80 EUR")
    expect(sums).to_contain_text("1 636.80 EUR")
    expect(sums).to_contain_text("Paid by: Insurer")
    expect(approve(page)).to_contain_text("Nobody is named who answered version 1")
    answered_by(page, "H. Quill")
    expect(approve(page)).to_contain_text("optional lines: 3")
    form_of(page, "option").get_by_role("button", name="Taken").click()
    approve(page)
    expect(page.locator(".quote-given").first).to_contain_text("Answer:")
    expect(sums.locator(".quote-total")).to_contain_text("1 636.80 EUR")


def second_version(page: Page) -> None:
    """Write the version that covers what the work comes to, and have that one approved."""
    page.get_by_text("Change the quotation").click()
    editor = page.locator('form[data-entry="quotation"][data-targets]')
    quote(editor, "1300", "Two more clamps")
    expect(page.locator(".quote-changes").first).to_contain_text("Against version 1: +360.00 EUR")
    expect(approve(page)).to_contain_text("Nobody is named who answered version 2")
    strike(page, "How the customer answered", "quote_how")
    strike(page, "Who answered, and when", "quote_who")
    answered_by(page, "H. Quill, again")
    form_of(page, "option").get_by_role("button", name="Taken").click()
    approve(page)
    expect(page.locator(".quote-given").first).to_contain_text("Answer:")


def saved_lines(page: Page, kept: Path) -> list[dict[str, str]]:
    """Save the job's lines and read them."""
    with page.expect_download() as saved:
        page.get_by_role("link", name="Lines for accounting (CSV)").click()
    saved.value.save_as(kept)
    assert "not-an-invoice" in saved.value.suggested_filename
    text = io.StringIO(kept.read_text(encoding="utf-8-sig"), newline="")
    return list(csv.DictReader(text))


def test_growth_waits_for_a_new_version_and_the_lines_go_to_accounting(
    page: Page, floor: Floor, complaints: Complaints, tmp_path: Path
) -> None:
    scene = floor.job("hatchback-waits", f"{SLUG}.quotation")
    sign_on(page, DESK, floor.shop.pin)
    page.goto(f"/jobs/{scene.job}/{SLUG}/")
    first_version(page)
    comes_to(page, "1890")
    expect(page.locator(".points").first).to_contain_text("above the 1 636.80 EUR")
    strike(page, "The customer's answer", "answer")
    expect(approve(page)).to_contain_text("Make a new version")
    second_version(page)
    rows = saved_lines(page, tmp_path / "lines.csv")
    amounts = {row["What"]: row["Amount"] for row in rows if row["Row"] == "line"}
    assert amounts["Module, tested spare"] == "1300.00"
    assert amounts["Returning customer"] == "-50.00"
    assert {row["Paid by"] for row in rows if row["Row"] == "tax"} == {"Customer", "Insurer"}
    assert complaints == []


def test_the_desk_asks_for_a_period_and_is_told_that_nothing_was_closed_in_it(
    page: Page, floor: Floor, complaints: Complaints
) -> None:
    sign_on(page, DESK, floor.shop.pin)
    page.goto("/jobs/?closed=1")
    page.get_by_role("link", name="Lines for accounting").click()
    expect(page.get_by_text("It is not an invoice")).to_be_visible()
    page.get_by_label("Closed from").fill("2001-01-01")
    page.get_by_label("Closed until").fill("2001-01-31")
    page.get_by_role("button", name="Save as CSV").click()
    expect(page.get_by_role("alert").first).to_contain_text("No job was closed in this period")
    expect(page.get_by_label("Closed from")).to_have_value("2001-01-01")
    assert complaints == []
