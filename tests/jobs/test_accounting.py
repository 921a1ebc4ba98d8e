"""Lines for the accounting program: what was approved, who pays it, what was fitted and billed."""

import csv
import io
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client

from jobs.core.entry import Kind
from jobs.core.item import qualifier_of
from jobs.core.quoted import in_force
from jobs.practice.player import advance, play
from jobs.practice.scene import DESK, Draft, Scene
from jobs.queries.records import job_info
from jobs.report.accounting import accounting_csv, accounting_rows, headings
from jobs.report.blocks import Bullets
from jobs.report.document import report_of
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import ANSWER, OPTION, QUOTATION, QUOTE_HOW, QUOTE_WHO
from tests.play import a_job, a_job_at
from workshop import clock, queries, sign_on

pytestmark = pytest.mark.django_db

STEP = next(step for step in STEPS if step.slug == "fault_localisation")
ROLES = {"technician": "Aster", "manager": "Thorne", "front_desk": "Lorne"}


def visitor(scene: Scene, role: str) -> Client:
    client, person = Client(), scene.shop.people[ROLES[role]]
    session = client.session
    session[sign_on.PERSON_KEY] = person
    session[sign_on.MARK_KEY] = queries.session_mark(person)
    session[sign_on.SEEN_KEY] = clock.now().timestamp()
    session.save()
    return client


def line(text: str, price: str, **more: str) -> dict[str, str]:
    common = {"kind": "part", "quantity": "1", "unit": "piece", "tax_percent": "20"}
    return {**common, "text": text, "unit_price": price, **more}


def approve(scene: Scene, *lines: dict[str, str], taken: tuple[int, ...] = ()) -> None:
    """Let the customer approve a version with these lines."""
    while not scene.record().has(QUOTATION):
        advance(scene, STEP)
    scene.strike(QUOTATION, "Another offer")
    scene.enter(QUOTATION, {"lines": list(lines)}, by=DESK)
    scene.enter(QUOTE_HOW, "phone", by=DESK)
    scene.enter(QUOTE_WHO, "The owner", by=DESK)
    version = in_force(scene.record(), QUOTATION)
    assert version is not None
    number = str(version.number)
    for place in version.given.value.options:
        at = qualifier_of(line=str(place), version=number)
        said = "taken" if place in taken else "left"
        scene.do(Draft(kind=Kind.VALUE, by=DESK, item=OPTION.key, qualifier=at, value=said))
    at = qualifier_of(version=number)
    scene.do(Draft(kind=Kind.VALUE, by=DESK, item=ANSWER.key, qualifier=at, value="approved"))


def table(content: bytes, separator: str = ",") -> list[dict[str, str]]:
    text = io.StringIO(content.decode("utf-8-sig"), newline="")
    return list(csv.DictReader(text, delimiter=separator))


def rows_of(scene: Scene, *, comma: bool = False) -> list[dict[str, str]]:
    info = job_info(scene.job)
    assert info is not None
    content = accounting_csv([(info, scene.record())], comma=comma)
    return table(content, ";" if comma else ",")


def test_nothing_is_listed_before_anything_is_approved() -> None:
    with a_job() as scene:
        info = job_info(scene.job)
        assert info is not None
        assert accounting_rows(info, scene.record()) == ()


def test_approved_lines_say_kind_price_tax_and_who_pays_and_add_up() -> None:
    with a_job_at("fault_localisation") as scene:
        approve(
            scene,
            line("Module", "1000", payer="insurer"),
            line("Opening", "95", kind="labour", quantity="1,5", unit="h"),
            line("Drain plugs", "38.05", optional="yes"),
            line("Paint", "70", optional="yes"),
            line("Returning customer", "20", kind="discount"),
            taken=(3,),
        )
        rows = rows_of(scene)
        version = in_force(scene.record(), QUOTATION)
        assert version is not None
        total = version.given.value.with_options({3}).total
    lines = [row for row in rows if row["Row"] == "line"]
    assert [row["What"] for row in lines] == [
        *("Module", "Opening", "Drain plugs", "Returning customer")
    ]
    assert [row["Amount"] for row in lines] == ["1000.00", "142.50", "38.05", "-20.00"]
    assert lines[0]["Paid by"] == "Insurer"
    assert lines[1]["Kind"] == "Labour"
    taxes = [row for row in rows if row["Row"] == "tax"]
    assert {row["Paid by"] for row in taxes} == {"Customer", "Insurer"}
    assert sum(Decimal(row["Amount"]) for row in (*lines, *taxes)) == total
    assert all(row["Note"] == "not an invoice" for row in rows)
    assert {row["Quotation"][-2:] for row in lines} == {"Q2"}


def told_of_payment(scene: Scene) -> list[str]:
    info = job_info(scene.job)
    assert info is not None
    blocks = report_of(info, scene.record(), "en").blocks
    lines = [line for block in blocks if isinstance(block, Bullets) for line in block.lines]
    return [line.replace("\u00a0", " ") for line in lines if "paid by" in line]


def test_where_the_customer_pays_alone_the_report_says_nothing_of_it() -> None:
    with a_job_at("fault_localisation") as scene:
        approve(scene, line("Module", "1000"))
        assert told_of_payment(scene) == []


def test_the_report_says_who_pays_which_part_where_it_is_not_the_customer_alone() -> None:
    with a_job_at("fault_localisation") as scene:
        approve(scene, line("Module", "1000", payer="insurer"), line("Opening", "95"))
        told = told_of_payment(scene)
        assert [each.partition("paid by ")[2] for each in told] == [
            "Customer: 114.00 EUR",
            "Insurer: 1 200.00 EUR",
        ]


def test_a_decimal_comma_parts_columns_by_semicolon() -> None:
    with a_job_at("fault_localisation") as scene:
        approve(scene, line("Module", "1234.50"))
        (found,) = [row for row in rows_of(scene, comma=True) if row["Row"] == "line"]
    assert (found["Amount"], found["Price of one"], found["Quantity"]) == (
        "1234,50",
        "1234,50",
        "1",
    )


@pytest.mark.parametrize("text", ['=HYPERLINK("x")', "+1+1", "-2+3", "@sum", " =1"])
def test_no_text_of_a_quotation_is_obeyed_by_a_spreadsheet(text: str) -> None:
    with a_job_at("fault_localisation") as scene:
        approve(scene, line(text, "10", unit="=1"))
        (found,) = [row for row in rows_of(scene) if row["Row"] == "line"]
    assert found["What"] == f"'{text.strip()}"
    assert found["Unit"] == "'=1"


def test_a_declined_job_lists_its_diagnosis_and_nothing_that_was_quoted() -> None:
    with a_job("hatchback-declined") as scene:
        play(scene)
        rows = rows_of(scene)
    whole = [(row["Row"], row["Amount with tax"]) for row in rows]
    assert whole == [("diagnosis", "440.00"), ("tax", "")]
    # What is in it of tax, at the rate quoted for labour: the customer's alone.
    assert [row["Amount"] for row in rows] == ["366.67", "73.33"]
    assert {Decimal(row["Tax, %"]) for row in rows} == {Decimal(20)}
    assert {row["Paid by"] for row in rows} == {"Customer"}
    assert rows[0]["Ended as"] == "repair declined"
    assert rows[0]["Closed on"] != ""


def test_parts_that_were_fitted_are_listed_without_a_price() -> None:
    with a_job_at("closed", "hatchback-heater") as scene:
        fitted = [row for row in rows_of(scene) if row["Row"] == "fitted"]
    assert len(fitted) == 1
    assert "serial 01930" in fitted[0]["What"]
    assert (fitted[0]["Amount"], fitted[0]["Currency"]) == ("", "")


def test_a_period_holds_the_jobs_closed_on_its_days_and_no_other() -> None:
    with a_job("hatchback-declined") as scene:
        play(scene)
        client = visitor(scene, "front_desk")
        closed = scene.record().closed
        assert closed is not None
        day = queries.local_day(closed.at)

        def asked(first: int, last: int) -> tuple[str, bytes]:
            days = {
                "from": (day + timedelta(days=first)).isoformat(),
                "to": (day + timedelta(days=last)).isoformat(),
            }
            answer = client.get("/jobs/accounting.csv", days)
            return str(answer["Content-Type"]), answer.content

        kind, content = asked(0, 0)
        assert kind.startswith("text/csv")
        assert [row["Row"] for row in table(content)] == ["diagnosis", "tax"]
        for first, last in ((1, 3), (-9, -1)):
            kind, content = asked(first, last)
            assert kind.startswith("text/html")
            assert b"No job was closed in this period." in content
        for first, last, words in (
            (0, -1, b"before the first"),
            (-400, 0, b"a year at most"),
        ):
            assert words in asked(first, last)[1]


@pytest.mark.parametrize(
    ("role", "status"), [("technician", 403), ("front_desk", 200), ("manager", 200)]
)
def test_only_desk_and_managers_get_the_lines(role: str, status: int) -> None:
    with a_job_at("fault_localisation") as scene:
        client = visitor(scene, role)
        for page in (
            f"/jobs/{scene.job}/accounting.csv",
            "/jobs/accounting/",
            "/jobs/accounting.csv",
        ):
            assert client.get(page).status_code == status
        assert Client().get("/jobs/accounting/").status_code == 302


def test_the_file_says_in_its_name_that_it_is_no_invoice() -> None:
    with a_job_at("fault_localisation") as scene:
        answer = visitor(scene, "manager").get(f"/jobs/{scene.job}/accounting.csv?decimal=comma")
    assert "not-an-invoice" in answer["Content-Disposition"]
    assert answer.content.decode("utf-8-sig").startswith(";".join(headings()[:3]))
