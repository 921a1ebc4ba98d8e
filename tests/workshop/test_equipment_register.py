"""The register of equipment: what a filter shows, what a correction leaves, when a test ends."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.test import Client

from jobs.core.item import Shape
from jobs.steps import STEPS
from tests.builders import a_bench
from workshop import actions, queries
from workshop.clock import FixedClock
from workshop.details import EquipmentDetails, EquipmentTest
from workshop.equipment import KINDS, interval_of
from workshop.errors import Conflict, InputRefused, NotAllowed

TabletOf = Callable[[str], Client]
TODAY = date(2026, 3, 2)
LIST = "/shop/equipment/"


def a_table(by: str, label: str, tested_on: date, **more: date) -> str:
    test = EquipmentTest(tested_on=tested_on, **more)  # type: ignore[arg-type]
    details = EquipmentDetails(
        kind="lifting_table", label=label, serial="S1", ratings={"max_kg": 900}, test=test
    )
    return actions.add_equipment(details=details, by=by)


def gloves(by: str, label: str, tested_on: date, *, issued: bool = True) -> str:
    details = EquipmentDetails(
        kind="gloves",
        label=label,
        ratings={"glove_class": "0"},
        test=EquipmentTest(tested_on=tested_on, issued=issued),
    )
    return actions.add_equipment(details=details, by=by)


def shown(tablet: Client, **asked: str) -> list[str]:
    """Give the labels that a list shows, in its order."""
    answer = tablet.get(LIST, asked)
    return [piece.label for piece, _ in answer.context["rows"]]


@pytest.fixture
def stock(wren: str) -> dict[str, str]:
    """Lapsed, lapsing, usable, withdrawn."""
    pieces = {
        "T-late": a_table(wren, "T-late", date(2025, 1, 15)),
        "T-soon": a_table(wren, "T-soon", date(2025, 3, 16)),
        "T-good": a_table(wren, "T-good", date(2026, 1, 15)),
        "G-late": gloves(wren, "G-late", date(2025, 8, 1)),
        "T-gone": a_table(wren, "T-gone", date(2026, 1, 15)),
    }
    actions.withdraw_equipment(equipment_id=pieces["T-gone"], reason="bent ram", by=wren)
    return pieces


@pytest.mark.parametrize(
    ("asked", "labels"),
    [
        ({}, ["T-late", "G-late", "T-soon", "T-good"]),
        ({"state": "usable"}, ["T-soon", "T-good"]),
        ({"state": "lapsing"}, ["T-soon"]),
        ({"state": "not_usable"}, ["T-late", "G-late"]),
        ({"state": "withdrawn"}, ["T-gone"]),
        ({"state": "spoon"}, []),
        ({"kind": "gloves"}, ["G-late"]),
        ({"q": "soon"}, ["T-soon"]),
        ({"q": "s1 lifting"}, ["T-late", "T-soon", "T-good"]),
        ({"q": "vetch"}, []),
    ],
)
def test_a_filter_shows_what_is_asked_for_due_soonest_first(
    tablet_of: TabletOf, ivy: str, stock: dict[str, str], asked: dict[str, str], labels: list[str]
) -> None:
    assert shown(tablet_of(ivy), **asked) == labels


def test_the_due_list_prints_what_the_filter_shows(
    tablet_of: TabletOf, ivy: str, stock: dict[str, str]
) -> None:
    page = tablet_of(ivy).get(f"{LIST}due/", {"state": "lapsing"}).content.decode()
    assert "T-soon" in page
    assert "T-good" not in page
    assert "data-print" in page


@pytest.mark.parametrize(("days_ahead", "lapsing"), [(14, True), (15, False), (0, True)])
def test_lapsing_means_within_fourteen_days(
    tablet_of: TabletOf, wren: str, time: FixedClock, days_ahead: int, lapsing: bool
) -> None:
    due_on = TODAY + timedelta(days=days_ahead)
    a_table(wren, "T-01", date(2026, 1, 15), due_on=due_on)
    assert shown(tablet_of(wren), state="lapsing") == (["T-01"] if lapsing else [])


def test_lapsed_gloves_are_said_not_to_be_picked(
    tablet_of: TabletOf, ivy: str, stock: dict[str, str]
) -> None:
    page = tablet_of(ivy).get(f"{LIST}{stock['G-late']}/").content.decode()
    assert "Not usable" in page
    assert "It cannot be picked in a job." in page
    good = tablet_of(ivy).get(f"{LIST}{stock['T-good']}/").content.decode()
    assert "cannot be picked" not in good


# ---------------------------------------------------------------- due dates


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_an_interval_says_where_it_comes_from(kind: str) -> None:
    interval = interval_of(kind, issued=True)
    assert (interval is not None) == KINDS[kind].dated
    assert interval is None or interval.source


def test_a_due_date_may_be_shortened_and_not_drawn_out(wren: str) -> None:
    early = a_table(wren, "T-01", date(2026, 1, 15), due_on=date(2026, 7, 15))
    piece = queries.equipment_piece(early, TODAY)
    assert piece is not None
    assert piece.due_on == date(2026, 7, 15)
    with pytest.raises(InputRefused) as refused:
        a_table(wren, "T-02", date(2026, 1, 15), due_on=date(2027, 1, 16))
    assert (refused.value.code, refused.value.field) == ("due_too_late", "due_on")
    assert "15 Jan 2027" in str(refused.value).replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("issued", "last"), [(True, date(2026, 7, 15)), (False, date(2027, 1, 15))]
)
def test_gloves_end_sooner_once_handed_out(wren: str, issued: bool, last: date) -> None:
    pair = queries.equipment_piece(gloves(wren, "G-1", date(2026, 1, 15), issued=issued), TODAY)
    assert pair is not None
    assert pair.due_on == last


# ---------------------------------------------------------------- corrections


def correction(**changes: object) -> EquipmentDetails:
    given = {"kind": "lifting_table", "label": "T-01", "ratings": {"max_kg": 900}} | changes
    return EquipmentDetails(**given)  # type: ignore[arg-type]


def test_a_correction_keeps_what_was_said_before(tablet_of: TabletOf, wren: str) -> None:
    table = a_table(wren, "T-01", date(2026, 1, 15))
    typed = {"label": "T-01", "serial": "S2", "max_kg": "750", "why": "plate misread"}
    tablet = tablet_of(wren)
    assert tablet.post(f"/equipment/{table}/correct/", typed).status_code == 302
    page = tablet.get(f"{LIST}{table}/").content.decode().replace("\u00a0", " ")
    assert "Highest load: was 900 kg, now 750 kg" in page
    assert "Serial number: was S1, now S2" in page
    assert "plate misread" in page
    assert "Wren Example" in page


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"max_kg": "-1"}, "max_kg"),
        ({"max_kg": "x"}, "max_kg"),
        ({"label": ""}, "label"),
        ({"label": "T-02"}, "label"),
        ({"why": " "}, "why"),
    ],
)
def test_a_faulty_correction_names_its_field(
    tablet_of: TabletOf, wren: str, changes: dict[str, str], field: str
) -> None:
    table = a_table(wren, "T-01", date(2026, 1, 15))
    a_table(wren, "T-02", date(2026, 1, 15))
    typed = {"label": "T-01", "serial": "kept", "max_kg": "750", "why": "misread"} | changes
    answer = tablet_of(wren).post(f"/equipment/{table}/correct/", typed)
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in answer.content.decode()
    assert 'value="kept"' in answer.content.decode()
    assert [each.kind for each in queries.history(table)] == ["added"]


def test_nothing_corrected_leaves_no_event(wren: str) -> None:
    table = a_table(wren, "T-01", date(2026, 1, 15))
    same = correction(serial="S1")
    actions.correct_equipment(equipment_id=table, details=same, why="looked", by=wren)
    assert len(queries.history(table)) == 1


def test_what_is_withdrawn_is_not_corrected(wren: str) -> None:
    table = a_table(wren, "T-01", date(2026, 1, 15))
    actions.withdraw_equipment(equipment_id=table, reason="bent ram", by=wren)
    with pytest.raises(Conflict):
        actions.correct_equipment(equipment_id=table, details=correction(), why="x", by=wren)


def test_only_a_manager_corrects_and_tests(wren: str, sorrel: str, ivy: str) -> None:
    table = a_table(wren, "T-01", date(2026, 1, 15))
    for by in (sorrel, ivy):
        with pytest.raises(NotAllowed):
            actions.correct_equipment(equipment_id=table, details=correction(), why="x", by=by)
        with pytest.raises(NotAllowed):
            actions.record_test(equipment_id=table, test=EquipmentTest(tested_on=TODAY), by=by)


def test_every_act_leaves_who_and_when(wren: str, sorrel: str, time: FixedClock) -> None:
    table = a_table(wren, "T-01", date(2026, 1, 15))
    actions.record_test(equipment_id=table, test=EquipmentTest(tested_on=TODAY), by=wren)
    time.advance(timedelta(hours=1))
    actions.withdraw_equipment(equipment_id=table, reason="bent ram", by=sorrel)
    told = [(each.kind, each.by, each.at.hour) for each in queries.history(table)]
    assert told == [
        ("withdrawn", "Sorrel Example", 9),
        ("tested", "Wren Example", 8),
        ("added", "Wren Example", 8),
    ]


def test_the_register_has_every_kind_that_a_step_asks_for() -> None:
    record = a_bench().record()
    asked = {
        kind
        for step in STEPS
        for item in step.items(record)
        if item.shape is Shape.EQUIPMENT
        for kind in item.kinds
    }
    assert asked
    assert asked <= set(KINDS)
