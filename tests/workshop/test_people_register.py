"""People: who a filter shows, what changes are taken, that a manager is always left."""

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client

from workshop import actions, clock, queries
from workshop.details import PersonDetails
from workshop.errors import Conflict, InputRefused, NotAllowed
from workshop.people import FRONT_DESK, MANAGER, TECHNICIAN

TabletOf = Callable[[str], Client]


def details(short_name: str, role: str) -> PersonDetails:
    return PersonDetails(display_name=f"{short_name} Example", short_name=short_name, role=role)


def shown(tablet: Client, **asked: str) -> list[str]:
    answer = tablet.get("/shop/people/", asked)
    return [each.short_name for each in answer.context["people"]]


@pytest.mark.parametrize(
    ("asked", "names"),
    [
        ({}, ["Ivy", "Moss", "Sorrel", "Wren"]),
        ({"role": "technician"}, ["Moss", "Sorrel"]),
        ({"state": "lapsing"}, ["Sorrel"]),
        ({"state": "no_pin"}, ["Moss"]),
        ({"state": "former"}, ["Fern"]),
        ({"state": "spoon"}, []),
        ({"q": "sor exam"}, ["Sorrel"]),
    ],
)
def test_a_filter_shows_whom_it_asks_for(
    tablet_of: TabletOf,
    wren: str,
    sorrel: str,
    ivy: str,
    asked: dict[str, str],
    names: list[str],
) -> None:
    actions.add_person(details=details("Moss", TECHNICIAN), by=wren)
    gone = actions.add_person(details=details("Fern", FRONT_DESK), by=wren)
    actions.retire_person(person_id=gone, by=wren)
    for person, day in ((sorrel, date(2026, 4, 1)), (wren, date(2026, 4, 2))):
        actions.set_qualification(
            person_id=person, code="live_work", expires_on=day, certificate="", by=wren
        )
    assert shown(tablet_of(wren), **asked) == names


def test_a_person_is_renamed_and_gets_another_role(
    tablet_of: TabletOf, wren: str, sorrel: str
) -> None:
    tablet = tablet_of(wren)
    typed = {"display_name": "Sorrel Reed", "short_name": "Sorrel", "role": "front_desk"}
    assert tablet.post(f"/shop/people/{sorrel}/change/", typed).status_code == 302
    page = tablet.get(f"/shop/people/{sorrel}/").content.decode()
    assert "Name: was Sorrel Example, now Sorrel Reed" in page
    assert "Role: was Technician, now Front desk" in page
    assert tablet_of(sorrel).get("/shop/customers/").status_code == 200


def test_the_last_manager_is_not_demoted_nor_retired_nor_locked_out(
    tablet_of: TabletOf, wren: str
) -> None:
    with pytest.raises(Conflict) as refused:
        actions.change_person(person_id=wren, details=details("Wren", TECHNICIAN), by=wren)
    assert refused.value.field == "role"
    for act in (actions.retire_person, actions.clear_pin):
        with pytest.raises(Conflict):
            act(person_id=wren, by=wren)
    typed = {"display_name": "Wren Example", "short_name": "Wren", "role": "technician"}
    answer = tablet_of(wren).post(f"/shop/people/{wren}/change/", typed)
    assert 'id="id_role_error"' in answer.content.decode()


def test_with_a_second_manager_who_can_sign_on_the_first_may_go(wren: str) -> None:
    moss = actions.add_person(details=details("Moss", MANAGER), by=wren)
    with pytest.raises(Conflict):
        actions.retire_person(person_id=wren, by=wren)
    actions.set_pin(person_id=moss, pin="7391", by=moss)
    actions.change_person(person_id=wren, details=details("Wren", TECHNICIAN), by=wren)
    assert queries.person(wren) is not None


def test_a_short_name_that_is_taken_is_refused_on_change_and_on_return(
    wren: str, sorrel: str, ivy: str
) -> None:
    with pytest.raises(InputRefused, match="Somebody else"):
        actions.change_person(person_id=ivy, details=details("Sorrel", FRONT_DESK), by=wren)
    actions.retire_person(person_id=sorrel, by=wren)
    actions.change_person(person_id=ivy, details=details("Sorrel", FRONT_DESK), by=wren)
    with pytest.raises(InputRefused, match="Somebody else"):
        actions.return_person(person_id=sorrel, by=wren)


def test_who_comes_back_sets_a_new_pin(tablet_of: TabletOf, wren: str, sorrel: str) -> None:
    actions.retire_person(person_id=sorrel, by=wren)
    tablet = tablet_of(wren)
    assert tablet.post(f"/shop/people/{sorrel}/return/").status_code == 302
    info = queries.person(sorrel)
    assert info is not None
    assert (info.active, info.has_pin) == (True, False)
    assert actions.check_pin(sorrel, "4826", clock.now()).state == "wrong"
    assert tablet.post(f"/shop/people/{sorrel}/return/").status_code == 422


def test_a_pin_taken_out_of_use_ends_the_session(
    tablet_of: TabletOf, wren: str, sorrel: str
) -> None:
    floor = tablet_of(sorrel)
    assert floor.get("/shop/equipment/").status_code == 200
    assert tablet_of(wren).post(f"/shop/people/{sorrel}/pin/clear/").status_code == 302
    assert floor.get("/shop/equipment/").status_code == 302
    assert actions.check_pin(sorrel, "4826", clock.now()).state == "wrong"


def test_a_qualification_is_renewed_and_taken_away(
    tablet_of: TabletOf, wren: str, sorrel: str
) -> None:
    tablet, page = tablet_of(wren), f"/shop/people/{sorrel}/"
    for day in ("2026-06-01", "2027-06-01"):
        tablet.post(page, {"code": "live_work", "expires_on": day})
    offered = tablet.get(f"{page}?renew=live_work").content.decode()
    assert '<option value="live_work" selected>' in offered
    remove = f"{page}qualifications/live_work/remove/"
    assert tablet.get(remove).status_code == 200
    assert tablet.post(remove).status_code == 302
    assert tablet.get(remove).status_code == 404
    info = queries.person(sorrel)
    assert info is not None
    assert info.qualifications == ()
    kinds = [each.kind for each in queries.history(sorrel)]
    assert kinds == ["unqualified", "qualified", "qualified"]


def test_only_a_manager_changes_people(wren: str, sorrel: str, ivy: str) -> None:
    for by in (sorrel, ivy):
        with pytest.raises(NotAllowed):
            actions.change_person(person_id=ivy, details=details("Ivy", MANAGER), by=by)
        with pytest.raises(NotAllowed):
            actions.clear_pin(person_id=wren, by=by)
        with pytest.raises(NotAllowed):
            actions.remove_qualification(person_id=ivy, code="live_work", by=by)
        with pytest.raises(NotAllowed):
            actions.return_person(person_id=ivy, by=by)


def test_a_change_of_nothing_leaves_no_event(wren: str, ivy: str) -> None:
    actions.change_person(person_id=ivy, details=details("Ivy", FRONT_DESK), by=wren)
    assert queries.history(ivy) == ()
