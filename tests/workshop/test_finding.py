"""A plate with or without spaces, a VIN's end, a number in any spelling: all are found."""

import string

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from workshop import actions, queries
from workshop.details import CustomerDetails, VehicleDetails
from workshop.finding import close_plate, meaning_of, phone_core, phone_ends
from workshop.queries.slices import PAGE_LENGTH

MARKS = st.sampled_from(["", " ", "-", "/", "."])
DIGITS = st.text(alphabet=string.digits, min_size=9, max_size=11)
NUMBER = "0131 496 0021"
PLATES = st.lists(
    st.text(alphabet=string.ascii_uppercase + string.digits, min_size=1, max_size=4),
    min_size=1,
    max_size=3,
)


def spelled(digits: str, marks: list[str]) -> str:
    """Put separators between the digits of a number."""
    return "".join(f"{digit}{mark}" for digit, mark in zip(digits, marks, strict=True))


@given(digits=DIGITS, data=st.data())
def test_every_spelling_of_a_number_has_a_run_of_digits_in_common(
    digits: str, data: st.DataObject
) -> None:
    national = "0" + digits.lstrip("0").ljust(9, "7")
    marks = data.draw(st.lists(MARKS, min_size=len(national), max_size=len(national)))
    stored = "".join(each for each in spelled(national, marks) if each.isdigit())
    for typed in (national, spelled(national, marks), f"+44 {national[1:]}", f"0044{national[1:]}"):
        assert any(run in stored for run in phone_ends(typed))


@given(parts=PLATES, mark=MARKS, other=MARKS)
def test_a_plate_is_the_same_with_any_separators_and_case(
    parts: list[str], mark: str, other: str
) -> None:
    assert close_plate(mark.join(parts)) == close_plate(other.join(parts).lower())


@given(text=st.text(max_size=80))
def test_any_text_has_a_meaning(text: str) -> None:
    assert meaning_of(text) in {"phone", "vin", "plate", "email", "name"}
    assert phone_core(text) == "" or phone_core(text).isdigit()


@pytest.fixture
def van(ivy: str) -> str:
    """Give a van that a customer with a telephone owns."""
    owner = actions.add_customer(details=CustomerDetails(name="Åse Quill", phone=NUMBER), by=ivy)
    details = VehicleDetails(plate="PF 41 VAN", vin="1J9RP1A36A1644345", make="Halden")
    return actions.add_vehicle(details=details, customer_id=owner, by=ivy)


@pytest.mark.parametrize(
    "search",
    [
        "pf41van",
        "PF-41-VAN",
        "41 VAN",
        "644345",
        "1J9RP1A36A1644345",
        "0131 4960021",
        "+44 131 496 0021",
        "+44 (0)131-496-0021",
        "(0131) 496/0021",
        "4960021",
        "åse",
        "ÅSE quill",
        "halden quill",
        "quill pf41",
    ],
)
def test_customer_and_vehicle_are_found_together(van: str, search: str) -> None:
    (found,) = queries.find(search)
    assert found.customer is not None
    assert found.customer.name == "Åse Quill"
    assert [each.id for each in found.vehicles] == [van]


@pytest.mark.parametrize("search", ["", "  ", "PF 42", "0131 496 0022", "vetch", "\x00", "%", "_"])
def test_what_does_not_fit_finds_nothing(van: str, search: str) -> None:
    assert queries.find(search) == ()


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@example(search="' OR 1=1 --")
@example(search="'" * 60)
@given(search=st.text(max_size=120))
def test_any_text_can_be_looked_for(van: str, search: str) -> None:
    assert len(queries.find(search)) <= 1
    assert queries.customers_page(search, 1).total <= 1
    assert queries.vehicles_page(search, 1).total <= 1


def test_a_customer_is_found_without_a_vehicle_and_an_erased_one_is_not(
    wren: str, ivy: str
) -> None:
    customer = actions.add_customer(details=CustomerDetails(name="Bram Vetch"), by=ivy)
    (found,) = queries.find("vetch")
    assert found.vehicles == ()
    actions.erase_customer(customer_id=customer, by=wren)
    assert queries.find("vetch") == ()
    assert queries.find("erased") == ()


def test_a_long_list_has_pages_and_the_last_is_never_passed(ivy: str) -> None:
    for number in range(PAGE_LENGTH + 1):
        actions.add_customer(details=CustomerDetails(name=f"Customer {number:03d}"), by=ivy)
    second = queries.customers_page("customer", 2)
    assert (second.total, second.pages, len(second.rows)) == (PAGE_LENGTH + 1, 2, 1)
    assert queries.customers_page("customer", 99) == second


@pytest.mark.parametrize("text", ["", "-1", "x", "0", "1e3", "9" * 400, "²"])
def test_an_odd_page_number_is_a_page(text: str) -> None:
    assert queries.page_number(text) >= 1
