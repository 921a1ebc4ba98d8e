"""Readings at any pole as one case, and the modules' own insulation side by side."""

from hypothesis import given
from hypothesis import strategies as st

from jobs.core.item import Bounded, reading, tick
from jobs.core.leak_search import (
    Searched,
    Taken,
    peers_of,
    plug_links,
    reading_blockers,
    reading_in_words,
    search,
    taken_closed,
    taken_open,
)
from jobs.core.pack_side import pack_side_items
from packs.physics.localise_case import LocaliseResult, Reading
from tests.builders import Bench, a_bench, a_pack, an_equipment

SIDE = pack_side_items("bench_step", hold="live", group="Pack")
POLES = reading("bench_step.reading", "Pole", unit="V", low=-1500, high=1500, many="each")
LINKS = tick("bench_step.link", "Link", many="each")

UNEXPLAINED = LocaliseResult(
    verdict="undecided",
    confirmed=False,
    modules=(),
    likely=(),
    leak_ohm=None,
    leak_ohm_low=None,
    leak_ohm_high=None,
    position_cells=None,
    position_cells_low=None,
    position_cells_high=None,
    leaks=(),
    several_leaks_probability=0.0,
    hand_rule_module=None,
    next_readings=(),
    inconsistent=True,
    suspect_reading=None,
    warnings=(),
)


def test_without_a_pack_there_is_nothing_to_search() -> None:
    record = Bench().record()
    assert taken_closed(record, SIDE) == ()
    assert taken_open(record, SIDE, POLES, LINKS) == ()
    assert search(record, SIDE, (), (None, None)) == Searched()


def test_a_case_the_calculation_refuses_says_why() -> None:
    bench = a_bench()
    bench.put(SIDE.meter, an_equipment("meter", input_ohm=1e7, rated_v=1000))
    bench.put(SIDE.string_v, "300")
    bench.put(SIDE.reading, "40", point="Disconnect socket, side A", shunt="none")
    record = bench.record()
    taken = taken_closed(record, SIDE)
    assert search(record, SIDE, taken, (None, None)).refused == ""
    assert search(record, SIDE, taken, (None, ("M99",))).refused


def test_the_disconnect_is_an_open_link_in_every_reading() -> None:
    assert plug_links(a_pack()) == ("M7",)


def test_a_reading_is_named_as_on_its_card() -> None:
    taken = Taken(
        key="bench_step.reading",
        qualifier="",
        known=True,
        reading=Reading(module="M3", pole="neg", open_after=("M2", "M7"), volts=-4.25),
    )
    assert reading_in_words(taken) == "M3 neg, links open after M2+M7, without shunt, -4.25 V"
    assert reading_in_words(None) == "-"


def test_readings_nobody_in_particular_contradicts_are_still_sent_back() -> None:
    (found,) = reading_blockers(Searched(result=UNEXPLAINED), "bench_step.reading", "")
    assert (found.code, found.item) == ("localise_inconsistent", "bench_step.reading")


OHM = st.builds(Bounded, st.floats(0.0, 1e10), st.sampled_from(["=", ">", "<"]))


@given(st.dictionaries(st.sampled_from([f"M{n}" for n in range(1, 9)]), OHM))
def test_a_bound_never_makes_a_suspect_and_the_suspect_is_the_lowest(
    values: dict[str, Bounded],
) -> None:
    peers = peers_of(values, 8, 1.0e6)
    if peers.suspect:
        assert values[peers.suspect].comparator != ">"
        assert values[peers.suspect].value == min(one.value for one in values.values())
    assert peers.sound is False or len(values) == 8


def test_modules_are_sound_only_when_every_one_was_read() -> None:
    values = {name: Bounded(5.0e8, ">") for name in ("M1", "M2", "M3", "M4")}
    assert peers_of(values, 4, 1.0e6).sound
    assert not peers_of(values, 5, 1.0e6).sound
