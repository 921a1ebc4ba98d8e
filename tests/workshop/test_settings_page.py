"""The shop's settings: units, language, logo and limits, each change with its history."""

import io
from collections.abc import Callable

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils.translation import get_language
from PIL import Image

from workshop import actions, queries, units
from workshop.actions.shop import LOGO_LIMIT_BYTES
from workshop.details import CustomerDetails, PersonDetails
from workshop.models import Certificate
from workshop.people import TECHNICIAN

TabletOf = Callable[[str], Client]
TYPED = {"name": "Example", "number_prefix": "EX", "time_zone": "UTC", "currency": "EUR"}
SETTINGS = "/shop/settings/"


def a_picture(kind: str = "PNG", size: tuple[int, int] = (300, 120)) -> bytes:
    written = io.BytesIO()
    Image.new("RGB", size, (180, 20, 20)).save(written, format=kind)
    return written.getvalue()


def sent(content: bytes) -> dict[str, SimpleUploadedFile]:
    return {"file": SimpleUploadedFile("x.png", content)}


def page_of(tablet: Client, address: str = SETTINGS) -> str:
    return tablet.get(address).content.decode()


# ---------------------------------------------------------------- units


def test_units_are_chosen_and_stand_in_the_history(tablet_of: TabletOf, wren: str) -> None:
    tablet = tablet_of(wren)
    assert tablet.post(SETTINGS, TYPED | {"torque_unit": "ftlb"}).status_code == 302
    assert queries.shop().units.torque == "ftlb"
    event = queries.history(queries.shop().workshop_id)[0]
    assert event.values["changes"]["torque_unit"] == ["", "ftlb"]
    assert event.by == "Wren Example"
    assert "Torque: was N·m, now ft·lb" in page_of(tablet)


def test_what_did_not_change_is_no_change(tablet_of: TabletOf, wren: str) -> None:
    tablet = tablet_of(wren)
    tablet.post(SETTINGS, TYPED)
    before = len(queries.history(queries.shop().workshop_id))
    tablet.post(SETTINGS, TYPED)
    assert len(queries.history(queries.shop().workshop_id)) == before


@pytest.mark.parametrize("field", ["torque_unit", "pressure_unit", "distance_unit", "language"])
def test_a_unit_or_language_that_is_none_names_its_field(
    tablet_of: TabletOf, wren: str, field: str
) -> None:
    answer = tablet_of(wren).post(SETTINGS, TYPED | {field: "cubit"})
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in answer.content.decode()


def test_only_a_manager_comes_here(tablet_of: TabletOf, sorrel: str, ivy: str) -> None:
    for person in (sorrel, ivy):
        tablet = tablet_of(person)
        assert tablet.get(SETTINGS).status_code == 403
        assert tablet.post(f"{SETTINGS}logo/", sent(a_picture())).status_code == 403
        assert tablet.post(f"{SETTINGS}logo/none/").status_code == 403
        assert tablet.post(f"{SETTINGS}limits/charge_rest_h/default/").status_code == 403


# ---------------------------------------------------------------- logo


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP"])
def test_a_logo_is_written_again_and_shown(tablet_of: TabletOf, wren: str, kind: str) -> None:
    tablet = tablet_of(wren)
    assert tablet.get("/shop/logo.png").status_code == 404
    assert tablet.post(f"{SETTINGS}logo/", sent(a_picture(kind))).status_code == 302
    answer = tablet.get("/shop/logo.png")
    with Image.open(io.BytesIO(answer.content)) as shown:
        assert (shown.format, shown.size) == ("PNG", (300, 120))
    assert queries.logo_bytes() == answer.content
    assert "/shop/logo.png?" in page_of(tablet)
    assert queries.history(queries.shop().workshop_id)[0].kind == "logo_set"


def test_a_large_picture_becomes_small_enough_for_paper(tablet_of: TabletOf, wren: str) -> None:
    tablet = tablet_of(wren)
    assert tablet.post(f"{SETTINGS}logo/", sent(a_picture(size=(4000, 500)))).status_code == 302
    with Image.open(io.BytesIO(queries.logo_bytes() or b"")) as shown:
        assert shown.size == (1200, 150)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"%PDF-1.4 %%EOF",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        a_picture()[:60],
        b"x" * (LOGO_LIMIT_BYTES + 1),
    ],
    ids=["empty", "pdf", "svg", "cut off", "too large"],
)
def test_what_is_no_logo_is_refused_at_its_field(
    tablet_of: TabletOf, wren: str, content: bytes
) -> None:
    answer = tablet_of(wren).post(f"{SETTINGS}logo/", sent(content))
    assert answer.status_code == 422
    assert 'id="id_file_error"' in answer.content.decode()
    assert queries.logo_bytes() is None
    assert not Certificate.objects.exists()


def test_a_logo_is_taken_away(tablet_of: TabletOf, wren: str) -> None:
    tablet = tablet_of(wren)
    tablet.post(f"{SETTINGS}logo/", sent(a_picture()))
    assert tablet.post(f"{SETTINGS}logo/none/").status_code == 302
    assert queries.logo_bytes() is None
    assert queries.history(queries.shop().workshop_id)[0].kind == "logo_taken_away"


# ---------------------------------------------------------------- limits


def test_a_limit_says_who_changed_it_and_goes_back(tablet_of: TabletOf, wren: str) -> None:
    tablet = tablet_of(wren)
    assert "limit_reset" not in page_of(tablet)
    tablet.post(f"{SETTINGS}limits/charge_rest_h/", {"value": "5", "note": "cold hall"})
    limit = queries.limits()["charge_rest_h"]
    assert (limit.value, limit.changed_by, limit.default.value) == (5.0, "Wren Example", 3.0)
    shown = page_of(tablet)
    assert "Wren Example, 2\u00a0Mar\u00a02026" in shown
    assert "default 3\u00a0h" in shown
    assert tablet.post(f"{SETTINGS}limits/charge_rest_h/default/").status_code == 302
    back = queries.limits()["charge_rest_h"]
    assert (back.value, back.changed_at) == (3.0, None)
    kinds = [each.kind for each in queries.history(queries.shop().workshop_id)]
    assert kinds[:2] == ["reset", "changed"]


def test_an_unknown_limit_has_no_way_back(tablet_of: TabletOf, wren: str) -> None:
    assert tablet_of(wren).post(f"{SETTINGS}limits/made_up/default/").status_code == 404


# ---------------------------------------------------------------- language


def test_the_shops_language_is_on_every_page_whatever_the_browser_asks(
    tablet_of: TabletOf, wren: str
) -> None:
    tablet = tablet_of(wren)
    answer = tablet.get(SETTINGS, headers={"accept-language": "de"})
    assert answer.headers["Content-Language"] == "en"
    tablet.post(SETTINGS, TYPED | {"language": "de"})
    answer = tablet.get(SETTINGS, headers={"accept-language": "en"})
    assert answer.headers["Content-Language"] == "de"
    assert '<html lang="de">' in answer.content.decode()
    assert Client().get("/shop/sign-on/").headers["Content-Language"] == "de"


def test_ones_own_language_goes_before_the_shops(
    tablet_of: TabletOf, wren: str, sorrel: str
) -> None:
    tablet_of(wren).post(SETTINGS, TYPED | {"language": "de"})
    tablet = tablet_of(sorrel)
    assert tablet.get("/").headers["Content-Language"] == "de"
    assert tablet.post("/shop/my-language/", {"language": "en"}).status_code == 302
    assert tablet.get("/").headers["Content-Language"] == "en"
    tablet.post("/shop/my-language/", {"language": "xx"})
    assert tablet.get("/").headers["Content-Language"] == "en"
    tablet.post("/shop/my-language/", {"language": ""})
    assert tablet.get("/").headers["Content-Language"] == "de"


def test_a_manager_may_set_a_persons_language(wren: str, sorrel: str) -> None:
    details = PersonDetails(
        display_name="Sorrel Example", short_name="Sorrel", role=TECHNICIAN, language="de"
    )
    actions.change_person(person_id=sorrel, details=details, by=wren)
    person = queries.person(sorrel)
    assert person is not None
    assert person.language == "de"


def test_papers_speak_the_customers_language_else_the_shops(wren: str) -> None:
    own = actions.add_customer(details=CustomerDetails(name="Alba", language="de"), by=wren)
    none = actions.add_customer(details=CustomerDetails(name="Bram"), by=wren)
    assert queries.language_for(own) == "de"
    assert queries.language_for(none) == "en"
    assert queries.language_for(None) == "en"
    assert queries.language_for("no such") == "en"


def test_one_request_leaves_nothing_behind_for_the_next(tablet_of: TabletOf, wren: str) -> None:
    tablet = tablet_of(wren)
    tablet.post(SETTINGS, TYPED | {"language": "de", "torque_unit": "ftlb"})
    tablet.get(SETTINGS)
    assert get_language() == "en"
    assert units.shown_unit("Nm") == "Nm"
