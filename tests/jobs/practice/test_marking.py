"""What a practice comes to: readings held against what the instruments showed."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from jobs.core.entry import Entry, Kind
from jobs.practice.room.marking import wrong_readings
from jobs.practice.scenario import pack_text
from jobs.queries.practice import PracticeDone
from jobs.steps.fault_localisation.items import READING
from jobs.steps.isolation_readings.items import PACK, VEHICLE
from packs.definition import from_toml

PACK_OF = from_toml(pack_text("city-hatchback"))
AT = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
LOWER = "point=Disconnect socket, lower contact;shunt=none"


def a_look(shown: Sequence[str], red: str = "pole:M4:pos", **more: Any) -> PracticeDone:
    values = {
        "item": PACK.reading.key, "red": red, "black": "enclosure", "shunt": False,
        "shown": list(shown), "danger": "", **more,
    }  # fmt: skip
    return PracticeDone("looked", AT, values)


def typed(number: str, qualifier: str = LOWER, item: str = PACK.reading.key) -> Entry:
    return Entry(
        key=number, seq=2, kind=Kind.VALUE, item=item, qualifier=qualifier,
        value={"number": number, "comparator": "="}, at=AT + timedelta(seconds=5),
    )  # fmt: skip


def counted(entry: Entry, *looks: PracticeDone) -> dict[str, int]:
    return dict(wrong_readings([entry], looks, PACK_OF))


def test_what_was_shown_and_typed_is_right() -> None:
    assert counted(typed("-83.20"), a_look(["0.00", "-80.11", "-83.20"])) == {}


def test_another_figure_than_shown_is_found() -> None:
    assert counted(typed("38.20"), a_look(["-83.20"])) == {"other_than_shown": 1}


def test_a_lost_sign_is_another_figure() -> None:
    assert counted(typed("83.20"), a_look(["-83.20"])) == {"other_than_shown": 1}


def test_a_reading_at_another_pole_is_found() -> None:
    assert counted(typed("-83.20"), a_look(["-83.20"], "pole:M5:neg")) == {"other_place": 1}


def test_a_forgotten_shunt_is_found() -> None:
    fitted = "point=Disconnect socket, lower contact;shunt=fitted"
    assert counted(typed("-83.20", fitted), a_look(["-83.20"])) == {"other_place": 1}


def test_a_figure_without_an_instrument_is_found() -> None:
    assert counted(typed("-83.20")) == {"not_looked": 1}


def test_a_pole_of_the_open_pack_is_compared_too() -> None:
    place = "module=M6;open=M5+M6;pole=neg;shunt=none"
    look = a_look(["-12.00"], "pole:M6:neg", item=READING.key)
    assert counted(typed("-12.00", place, READING.key), look) == {}
    other = a_look(["-12.00"], "pole:M6:pos", item=READING.key)
    assert counted(typed("-12.00", place, READING.key), other) == {"other_place": 1}


@pytest.mark.parametrize(
    ("shown", "number", "right"),
    [
        ("38.2\u00a0kΩ", "38200", True),
        ("38.2\u00a0kΩ", "382000", False),
        ("> 550\u00a0MΩ", "550000000", True),
        ("150 Ω", "150", True),
        ("OL", "150", False),
    ],
)
def test_ohms_are_read_with_their_prefix(shown: str, number: str, right: bool) -> None:
    key = VEHICLE.reading.key
    look = a_look([shown], "cable:pos", item=key)
    entry = typed(number, "pole=pos;unplugged=nothing", key)
    assert counted(entry, look) == ({} if right else {"other_than_shown": 1})
