"""Definitions, packs as things and spares are stored once, in order, and never lost."""

from datetime import UTC, date, datetime, timedelta
from uuid import UUID, uuid4

import pytest

from packs import actions, queries
from packs.definition import DefinitionRefused, digest, from_toml
from packs.errors import Conflict, InputRefused
from packs.queries import RevisionInfo
from packs.spare_tests import SpareTest
from packs.spares import FITTED, IN_STOCK, QUARANTINED, RESERVED, SCRAPPED, NewSpare
from packs.spares import SpareInfo as Spare
from tests.packs.changed_definition import changed, put, text_of

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
BRAMBLE = UUID("00000000-0000-4000-8000-0000000000b1")

pytestmark = pytest.mark.django_db


def sent(text: str | bytes, *, note: str = "") -> RevisionInfo:
    return actions.add_pack_revision(toml=text, by=BRAMBLE, now=NOW, note=note)


def new_spare(serial: str = "S-1", **more: object) -> NewSpare:
    plain: dict[str, object] = {
        "serial": serial,
        "part": "OB-M6-120",
        "chemistry": "nmc",
        "cells": 6,
        "provenance": "Donor van, side impact, 41 000 km",
        "place": "Rack 2",
        "test": SpareTest(capacity_ah=112.0, resistance_mohm=3.1, tested_on=date(2026, 2, 20)),
    }
    return NewSpare(**{**plain, **more})  # type: ignore[arg-type]


def added(serial: str = "S-1", **more: object) -> Spare:
    return actions.add_spare(new=new_spare(serial, **more), by=BRAMBLE, now=NOW)


def moved(spare: Spare, state: str, place: str = "Rack 2") -> Spare:
    return actions.move_spare(
        spare_id=spare.id, state=state, place=place, by=BRAMBLE, now=NOW, note="because"
    )


def test_a_definition_becomes_the_first_revision_of_its_kind() -> None:
    revision = sent(text_of(), note=" first ")
    assert (revision.slug, revision.number, revision.note) == ("delivery-van", 1, "first")
    assert revision.definition == from_toml(text_of())
    assert revision.sha256 == digest(revision.definition)
    assert (revision.created_at, revision.created_by) == (NOW, BRAMBLE)


def test_the_text_is_kept_as_it_was_sent() -> None:
    assert sent(text_of().encode()).toml == text_of()


def test_the_same_content_sent_twice_is_one_revision() -> None:
    first = sent(text_of())
    assert sent(text_of() + "\n# a comment\n").id == first.id
    assert queries.revision_numbers("delivery-van") == (1,)


def test_changed_content_is_the_next_revision_and_the_first_one_stays() -> None:
    first = sent(text_of())
    second = sent(changed(put("mass_kg.value", 320.0)))
    assert second.number == 2
    assert queries.latest_revision("delivery-van").id == second.id
    assert queries.revision(first.id).definition.mass_kg.value == pytest.approx(318.0)


def test_going_back_to_earlier_content_is_a_new_revision() -> None:
    first = sent(text_of())
    sent(changed(put("mass_kg.value", 320.0)))
    third = sent(text_of())
    assert (third.number, third.sha256) == (3, first.sha256)


def test_a_refused_definition_leaves_nothing_behind() -> None:
    with pytest.raises(DefinitionRefused):
        sent(changed(put("dead_v.value", 400.0)))
    assert queries.packs_list(withdrawn=True) == ()


def test_the_name_follows_the_newest_revision() -> None:
    sent(text_of())
    sent(changed(put("name", "Halden Orrin, second series")))
    assert [pack.name for pack in queries.packs_list()] == ["Halden Orrin, second series"]


def test_a_withdrawn_kind_leaves_the_list_and_keeps_its_revisions() -> None:
    revision = sent(text_of())
    actions.withdraw_pack(slug="delivery-van", now=NOW)
    actions.withdraw_pack(slug="delivery-van", now=NOW + timedelta(days=1))
    assert queries.packs_list() == ()
    assert queries.is_withdrawn("delivery-van")
    assert [pack.withdrawn_at for pack in queries.packs_list(withdrawn=True)] == [NOW]
    assert queries.revision(revision.id).number == 1


def test_a_withdrawn_kind_that_is_sent_again_is_in_use_again() -> None:
    first = sent(text_of())
    actions.withdraw_pack(slug="delivery-van", now=NOW)
    assert sent(text_of()).id == first.id
    assert not queries.is_withdrawn("delivery-van")


def test_what_was_never_sent_cannot_be_withdrawn() -> None:
    with pytest.raises(InputRefused, match="no such revision"):
        actions.withdraw_pack(slug="tram", now=NOW)


def test_a_pack_as_a_thing_is_entered_once() -> None:
    sent(text_of())
    first = actions.add_physical_pack(serial=" HB-0041 ", slug="delivery-van", note="second owner")
    again = actions.add_physical_pack(serial="HB-0041", slug="delivery-van")
    assert first == again
    assert [pack.serial for pack in queries.physical_packs()] == ["HB-0041"]


def test_a_pack_may_arrive_before_its_kind_is_known() -> None:
    pack = actions.add_physical_pack(serial="HB-0042")
    assert actions.add_physical_pack(serial="HB-0042") == pack
    assert queries.physical_packs() == (pack,)
    assert pack.slug is None


@pytest.mark.parametrize(
    ("serial", "slug", "code"), [(" ", None, "required"), ("HB-1", "tram", "unknown_pack")]
)
def test_a_pack_without_serial_or_of_an_unknown_kind_is_refused(
    serial: str, slug: str | None, code: str
) -> None:
    with pytest.raises(InputRefused) as refused:
        actions.add_physical_pack(serial=serial, slug=slug)
    assert refused.value.code == code
    assert str(refused.value)


def test_a_spare_comes_into_stock_with_its_first_line_of_history() -> None:
    spare = added()
    assert (spare.state, spare.place, spare.test.capacity_ah) == (IN_STOCK, "Rack 2", 112.0)
    assert spare.available
    [event] = queries.spare_events(spare.id)
    assert (event.kind, event.at, event.person_id) == ("added", NOW, BRAMBLE)
    assert event.values == {
        "capacity_ah": 112.0,
        "resistance_mohm": 3.1,
        "tested_on": "2026-02-20",
    }


def test_a_spare_sent_twice_under_one_key_is_one_spare() -> None:
    key = uuid4()
    for _time in range(2):
        actions.add_spare(new=new_spare(), by=BRAMBLE, now=NOW, spare_id=key)
    assert len(queries.spares()) == 1
    assert len(queries.spare_events(key)) == 1


def test_a_serial_is_in_the_register_once() -> None:
    added("S-1")
    with pytest.raises(Conflict, match="Serial S-1 is in the register already"):
        added(" S-1 ")


@pytest.mark.parametrize(
    ("change", "field", "code"),
    [
        ({"serial": " "}, "serial", "required"),
        ({"part": ""}, "part", "required"),
        ({"provenance": ""}, "provenance", "required"),
        ({"chemistry": "lead"}, "chemistry", "unknown_chemistry"),
        ({"cells": 0}, "cells", "not_positive"),
        ({"test": SpareTest(capacity_ah=0.0)}, "capacity_ah", "not_positive"),
        ({"test": SpareTest(cell_v=float("nan"))}, "cell_v", "not_positive"),
        ({"test": SpareTest(cell_v=float("inf"))}, "cell_v", "not_positive"),
        ({"test": SpareTest(insulation_test_v=500.0)}, "insulation_ohm", "bound_without_value"),
        (
            {"test": SpareTest(insulation_ohm=1e9, insulation_comparator="<")},
            "insulation_comparator",
            "bound_without_value",
        ),
        ({"test": SpareTest(rest_h=-1.0, cell_v=3.7)}, "rest_h", "negative"),
        ({"test": SpareTest(rest_h=4.0)}, "cell_v", "rest_without_voltage"),
        ({"state": FITTED}, "state", "unknown_state"),
        ({"test": SpareTest(tested_on=date(2026, 3, 3))}, "tested_on", "in_future"),
    ],
)
def test_a_spare_is_refused_at_the_field(change: dict[str, object], field: str, code: str) -> None:
    with pytest.raises(InputRefused) as refused:
        added(**{"serial": "S-1", **change})  # type: ignore[arg-type]
    assert (refused.value.field, refused.value.code) == (field, code)
    assert queries.spares() == ()


def test_a_spare_is_reserved_fitted_and_later_quarantined() -> None:
    spare = added()
    for state in (RESERVED, FITTED, QUARANTINED, SCRAPPED):
        spare = moved(spare, state)
    assert [event.state for event in queries.spare_events(spare.id)] == [
        IN_STOCK,
        RESERVED,
        FITTED,
        QUARANTINED,
        SCRAPPED,
    ]


def test_a_spare_that_two_want_goes_to_the_first() -> None:
    spare = moved(added(), RESERVED, "Bay 1")
    moved(spare, FITTED, "Bay 1")
    with pytest.raises(Conflict, match="A spare that is fitted cannot become reserved"):
        moved(spare, RESERVED, "Bay 2")


@pytest.mark.parametrize("state", [FITTED, "in_stock_again"])
def test_a_spare_cannot_jump(state: str) -> None:
    with pytest.raises((Conflict, InputRefused)):
        moved(added(), state)


def test_a_quarantined_spare_is_not_fitted() -> None:
    with pytest.raises(Conflict):
        moved(moved(added(), QUARANTINED), FITTED)


def test_a_spare_leaves_quarantine_only_with_a_reason() -> None:
    spare = moved(added(), QUARANTINED)
    with pytest.raises(InputRefused) as refused:
        actions.move_spare(spare_id=spare.id, state=IN_STOCK, place="", by=BRAMBLE, now=NOW)
    assert (refused.value.code, refused.value.field) == ("reason_needed", "note")
    assert moved(spare, IN_STOCK).available


def test_a_move_to_where_it_stands_writes_nothing() -> None:
    spare = moved(moved(added(), RESERVED, "Bay 1"), RESERVED, "Bay 1")
    assert len(queries.spare_events(spare.id)) == 2


def test_a_move_to_another_place_keeps_the_state() -> None:
    spare = moved(added(), IN_STOCK, " Rack 3 ")
    assert (spare.state, spare.place) == (IN_STOCK, "Rack 3")


def measured(spare: Spare, test: SpareTest) -> Spare:
    return actions.add_spare_test(spare_id=spare.id, test=test, by=BRAMBLE, now=NOW)


def test_a_test_replaces_what_it_measured_and_leaves_the_rest() -> None:
    bound = SpareTest(insulation_ohm=5.5e8, insulation_comparator=">", insulation_test_v=500.0)
    spare = measured(measured(added(), bound), SpareTest(capacity_ah=110.0))
    assert spare.test == SpareTest(
        capacity_ah=110.0,
        resistance_mohm=3.1,
        tested_on=date(2026, 3, 2),
        insulation_ohm=5.5e8,
        insulation_comparator=">",
        insulation_test_v=500.0,
    )
    assert spare.test.insulation_is_bound
    assert queries.spare_events(spare.id)[-1].values == {
        "capacity_ah": 110.0,
        "tested_on": "2026-03-02",
    }
    assert queries.spare_events(spare.id)[1].values == {
        "tested_on": "2026-03-02",
        "insulation_ohm": 5.5e8,
        "insulation_comparator": ">",
        "insulation_test_v": 500.0,
    }


def test_a_test_that_is_in_the_history_already_writes_nothing() -> None:
    spare, test = added(), SpareTest(capacity_ah=110.0)
    for _time in range(2):
        measured(spare, test)
    measured(spare, SpareTest(cell_v=3.7))
    measured(spare, test)
    assert [event.kind for event in queries.spare_events(spare.id)] == ["added", *["tested"] * 2]


def test_a_test_in_which_nothing_was_measured_is_refused() -> None:
    with pytest.raises(InputRefused, match="at least one measured value"):
        measured(added(), SpareTest(tested_on=date(2026, 3, 1)))


def test_an_older_test_stands_in_the_history_and_replaces_no_figure() -> None:
    spare = measured(added(), SpareTest(capacity_ah=121.0, tested_on=date(2026, 1, 5)))
    assert (spare.test.capacity_ah, spare.test.tested_on) == (112.0, date(2026, 2, 20))
    assert queries.spare_events(spare.id)[-1].test.capacity_ah == pytest.approx(121.0)


def test_a_new_insulation_reading_does_not_keep_the_test_voltage_of_the_old_one() -> None:
    spare = measured(added(), SpareTest(insulation_ohm=2e8, insulation_test_v=500.0))
    spare = measured(spare, SpareTest(insulation_ohm=3e8))
    assert (spare.test.insulation_ohm, spare.test.insulation_test_v) == (3e8, None)


def test_an_unknown_spare_is_refused_everywhere() -> None:
    nobody = uuid4()
    for ask in (
        lambda: queries.spare(nobody),
        lambda: queries.spare_snapshot(nobody, NOW),
        lambda: actions.move_spare(spare_id=nobody, state=IN_STOCK, place="", by=BRAMBLE, now=NOW),
        lambda: actions.add_spare_test(
            spare_id=nobody, test=SpareTest(cell_v=3.7), by=BRAMBLE, now=NOW
        ),
    ):
        with pytest.raises(InputRefused, match="no such spare"):
            ask()
