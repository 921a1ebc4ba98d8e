"""Which module leaks: verdicts, confirmation, properties and edges, on simulated readings."""

from dataclasses import replace
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.physics.instrument import Meter
from packs.physics.localise import (
    LocaliseCase,
    LocaliseResult,
    Module,
    Place,
    Reading,
    localise,
)
from packs.physics.simulate import (
    PackUnderTest,
    Probe,
    SimulatedLeak,
    SimulatedModule,
    meter_in_hand,
    meter_reading_v,
)

NAMES = tuple(f"M{number}" for number in range(1, 13))
METER = Meter(input_ohm=1.0e7)
SHUNT_OHM = 1.0e6
CELL_V = 3.7
few = settings(max_examples=12, deadline=None)


def a_pack(*leaks: tuple[str, float, float], sound_ohm: float = 1.0e8) -> PackUnderTest:
    return PackUnderTest(
        modules=tuple(SimulatedModule(name=name, cells_v=(CELL_V,) * 8) for name in NAMES),
        leaks=tuple(
            SimulatedLeak(module=module, position_cells=cells, leak_ohm=ohm)
            for module, cells, ohm in leaks
        ),
        sound_ohm=sound_ohm,
    )


def read(pack: PackUnderTest, *links: tuple[str, ...], seed: int = 1) -> LocaliseCase:
    """Read both sides of the last link named in each set of open links, without and with shunt."""
    chance = Random(seed)  # noqa: S311  (repeatable readings, not a secret)
    in_hand = meter_in_hand(METER, chance)
    readings = []
    for open_after in links:
        below = open_after[-1]
        above = NAMES[NAMES.index(below) + 1]
        spots: list[tuple[str, Any]] = [(below, "pos"), (above, "neg")]
        for module, pole in spots:
            for shunt_ohm in (None, SHUNT_OHM):
                probe = Probe(module=module, pole=pole, open_after=open_after, shunt_ohm=shunt_ohm)
                volts = meter_reading_v(pack, in_hand, probe, chance)
                readings.append(
                    Reading(
                        module=module,
                        pole=pole,
                        open_after=open_after,
                        shunt_ohm=shunt_ohm,
                        volts=volts,
                    )
                )
    return LocaliseCase(
        modules=tuple(Module(name=name, cells=8) for name in NAMES),
        cell_v=CELL_V,
        meter=METER,
        readings=tuple(readings),
        propose=False,
    )


def quick(case: LocaliseCase) -> LocaliseCase:
    """Leave out pairs and proposals, which are slow and not under test."""
    return replace(case, several_prior=0.0, propose=False)


def by_name(result: LocaliseResult) -> dict[str, float]:
    return {each.name: each.probability for each in result.modules}


def test_sums_over_modules_exceed_one_only_when_several_leak() -> None:
    one = localise(read(a_pack(("M3", 4.0, 1.0e5)), ("M6",)))
    two = localise(read(a_pack(("M3", 4.0, 1.0e5), ("M9", 4.0, 1.0e5)), ("M6",)))
    assert sum(by_name(one).values()) == pytest.approx(1.0, abs=0.05)
    assert sum(by_name(two).values()) == pytest.approx(2.0, abs=0.01)
    assert two.several_leaks_probability == pytest.approx(1.0)


def test_two_leaks_in_one_section_look_like_one_between_them_and_are_not_confirmed() -> None:
    pack = a_pack(("M2", 4.0, 1.0e5), ("M6", 4.0, 1.0e5))
    result = localise(read(pack, ("M6",)))
    assert result.modules[0].name == "M4"
    assert not result.confirmed
    assert "not_confirmed" in [warning.code for warning in result.warnings]


def test_opening_the_links_beside_a_ghost_shows_the_two_leaks() -> None:
    pack = a_pack(("M2", 4.0, 1.0e5), ("M6", 4.0, 1.0e5))
    links = ("M6",), ("M6", "M3"), ("M6", "M4"), ("M6", "M1"), ("M6", "M2"), ("M6", "M5")
    result = localise(read(pack, *links))
    assert {leak.module for leak in result.leaks} == {"M2", "M6"}
    assert result.confirmed


def test_a_leak_read_alone_between_open_links_is_confirmed() -> None:
    pack = a_pack(("M3", 4.0, 5.0e4))
    result = localise(read(pack, ("M6",), ("M6", "M2"), ("M6", "M2", "M3")))
    assert result.verdict == "named"
    assert result.confirmed
    assert [leak.module for leak in result.leaks] == ["M3"]


def test_opening_only_one_of_the_two_links_does_not_confirm() -> None:
    result = localise(read(a_pack(("M3", 4.0, 5.0e4)), ("M6",), ("M6", "M2")))
    assert result.verdict == "named"
    assert not result.confirmed


def test_the_end_module_needs_only_its_one_link_open() -> None:
    result = localise(read(a_pack(("M1", 4.0, 5.0e4)), ("M6",), ("M6", "M1")))
    assert result.confirmed


def test_confirmation_holds_against_pairs_even_when_none_were_expected() -> None:
    case = read(a_pack(("M3", 4.0, 5.0e4)), ("M6",), ("M6", "M2"), ("M6", "M2", "M3"))
    assert localise(quick(case)).confirmed


@few
@given(seed=st.integers(0, 10_000), log_sound=st.floats(7.0, 10.0))
def test_a_sound_pack_is_never_named(seed: int, log_sound: float) -> None:
    result = localise(quick(read(a_pack(sound_ohm=10.0**log_sound), ("M6",), seed=seed)))
    assert result.verdict in ("no_leak", "undecided")
    assert not result.confirmed


def test_a_pack_that_reads_as_sound_insulation_does_has_no_leak() -> None:
    result = localise(read(a_pack(sound_ohm=5.0e7), ("M6",)))
    assert result.verdict == "no_leak"
    assert [warning.code for warning in result.warnings] == ["weak_leak_not_excluded"]


def test_a_reading_near_zero_at_the_only_node_leaves_a_hidden_leak_possible() -> None:
    case = replace(read(a_pack(), ("M6",)), propose=True)
    silent = tuple(replace(each, volts=0.0) for each in case.readings)
    result = localise(replace(case, readings=silent))
    assert result.verdict == "undecided"
    assert "leak_may_hide" in [warning.code for warning in result.warnings]
    first = result.next_readings[0]
    assert (first.module, first.pole) not in (("M6", "pos"), ("M7", "neg"))
    assert first.gain_bits > 0.0


def test_better_insulation_than_usual_beside_a_leak_is_no_contradiction() -> None:
    result = localise(read(a_pack(("M3", 4.0, 5.0e4), sound_ohm=1.0e11), ("M6",)))
    assert result.verdict == "named"
    assert result.modules[0].name == "M3"


def test_most_single_leaks_are_ranked_first_by_readings_at_the_disconnect() -> None:
    chance = Random(3)  # noqa: S311  (repeatable cases, not a secret)
    right = 0
    for seed in range(25):
        module = chance.choice(NAMES)
        ohm = 10.0 ** chance.uniform(3.2, 6.6)
        pack = a_pack(
            (module, chance.uniform(0.0, 8.0), ohm), sound_ohm=10.0 ** chance.uniform(7, 9)
        )
        result = localise(quick(read(pack, ("M6",), seed=seed)))
        right += result.modules[0].name == module
    assert right >= 24


@few
@given(factor=st.floats(0.5, 2.0), ohm=st.floats(3.0e3, 3.0e6), module=st.sampled_from(NAMES))
def test_scaling_every_voltage_changes_nothing(factor: float, ohm: float, module: str) -> None:
    case = quick(read(a_pack((module, 3.3, ohm)), ("M6",)))
    scaled = replace(
        case,
        cell_v=CELL_V * factor,
        cell_v_spread_v=case.cell_v_spread_v * factor,
        meter=replace(METER, resolution_v=METER.resolution_v * factor),
        readings=tuple(replace(each, volts=each.volts * factor) for each in case.readings),
    )
    expected = by_name(localise(case))
    assert by_name(localise(scaled)) == pytest.approx(expected, abs=1.0e-6)


@few
@given(order=st.permutations(range(8)))
def test_the_order_of_the_readings_changes_nothing(order: list[int]) -> None:
    case = quick(read(a_pack(("M4", 7.8, 2.0e5)), ("M6",), ("M6", "M2")))
    shuffled = replace(case, readings=tuple(case.readings[index] for index in order))
    expected = by_name(localise(case))
    assert by_name(localise(shuffled)) == pytest.approx(expected, abs=1.0e-9)


def test_the_string_seen_from_the_other_end_names_the_mirrored_module() -> None:
    case = quick(read(a_pack(("M4", 7.0, 2.0e5)), ("M6",)))
    mirrored = tuple(
        replace(
            each,
            module="M7" if each.module == "M6" else "M6",
            pole="neg" if each.pole == "pos" else "pos",
            volts=-each.volts,
        )
        for each in case.readings
    )
    expected = by_name(localise(case))
    result = by_name(localise(replace(case, readings=mirrored)))
    for index, name in enumerate(NAMES):
        assert result[NAMES[-1 - index]] == pytest.approx(expected[name], abs=0.02)


def test_the_same_case_gives_the_same_answer() -> None:
    case = replace(read(a_pack(("M4", 7.9, 2.0e5)), ("M6",)), propose=True)
    assert localise(case) == localise(case)


def test_cell_voltages_one_by_one_mean_the_same_as_one_for_all() -> None:
    case = quick(read(a_pack(("M4", 4.0, 2.0e5)), ("M6",)))
    assert localise(replace(case, cell_v=(CELL_V,) * 96)) == localise(case)


def test_a_prior_moves_a_border_case() -> None:
    case = quick(read(a_pack(("M4", 8.0, 2.0e5)), ("M6",)))
    plain, moved = localise(case), localise(replace(case, prior={"M5": 9.0}))
    assert 0.1 < by_name(plain)["M5"] < 0.9
    assert by_name(moved)["M5"] > by_name(plain)["M5"]
    assert by_name(localise(replace(case, prior={"M5": 0.0})))["M5"] == 0.0


def test_a_border_case_narrows_to_its_two_sides() -> None:
    result = localise(quick(read(a_pack(("M4", 8.0, 2.0e5)), ("M6",))))
    assert result.verdict == "narrowed"
    assert set(result.likely) == {"M4", "M5"}


def test_a_soft_leak_misleads_the_hand_rule_but_not_the_posterior() -> None:
    result = localise(quick(read(a_pack(("M1", 1.0, 3.0e6)), ("M6",))))
    assert result.hand_rule_module == "M2"
    assert result.modules[0].name == "M1"


def test_the_hand_rule_needs_a_reading_without_shunt() -> None:
    case = quick(read(a_pack(("M1", 1.0, 3.0e5)), ("M6",)))
    shunted = tuple(each for each in case.readings if each.shunt_ohm is not None)
    assert localise(replace(case, readings=shunted)).hand_rule_module is None


@pytest.mark.parametrize("index", [0, 1, 4, 5])
def test_a_swapped_sign_is_accused(index: int) -> None:
    case = quick(read(a_pack(("M4", 4.0, 2.0e5)), ("M6",), ("M6", "M2")))
    wrong = [
        replace(each, volts=-each.volts) if at == index else each
        for at, each in enumerate(case.readings)
    ]
    result = localise(replace(case, readings=tuple(wrong)))
    assert result.inconsistent
    assert result.suspect_reading == index
    assert result.verdict == "undecided"
    assert "inconsistent_readings" in [warning.code for warning in result.warnings]
    assert result.modules[0].name == "M4"


def test_readings_that_make_no_sense_at_all_leave_the_prior() -> None:
    case = read(a_pack(("M4", 4.0, 2.0e5)), ("M6",))
    nonsense = tuple(
        replace(each, volts=(-1.0) ** at * 9.0e4) for at, each in enumerate(case.readings)
    )
    result = localise(replace(case, readings=nonsense, propose=True))
    assert result.inconsistent
    assert result.suspect_reading is None
    assert result.leak_ohm is None
    assert result.leaks == ()
    assert by_name(result)["M1"] == pytest.approx(1.0 / 12.0)
    assert len(result.next_readings) == 1


def test_proposals_for_a_named_module_include_reading_it_between_open_links() -> None:
    case = replace(read(a_pack(("M3", 4.0, 5.0e4)), ("M6",)), propose=True)
    result = localise(case)
    assert any({"M2", "M3"} <= set(each.open_after) for each in result.next_readings)
    gains = [each.gain_bits for each in result.next_readings]
    assert gains == sorted(gains, reverse=True)
    assert all(each.why for each in result.next_readings)


def test_proposals_keep_to_what_can_be_reached_and_opened() -> None:
    case = replace(
        read(a_pack(("M3", 4.0, 5.0e4)), ("M6",)),
        propose=True,
        reachable=(Place(module="M6", pole="pos"), Place(module="M7", pole="neg")),
        openable=("M8",),
    )
    for each in localise(case).next_readings:
        assert (each.module, each.pole) in (("M6", "pos"), ("M7", "neg"))
        assert set(each.open_after) <= {"M6", "M8"}


def test_when_nothing_new_can_be_read_a_repeat_is_proposed() -> None:
    case = replace(
        read(a_pack(("M3", 4.0, 5.0e4)), ("M6",)),
        propose=True,
        reachable=(Place(module="M6", pole="pos"),),
        openable=("M8",),
    )
    result = localise(case)
    assert result.next_readings
    assert {(each.module, each.pole) for each in result.next_readings} == {("M6", "pos")}
    assert "repeat" in result.next_readings[0].why


def test_either_name_of_a_closed_link_will_do() -> None:
    case = replace(
        read(a_pack(("M3", 4.0, 5.0e4)), ("M6",)),
        propose=True,
        reachable=(Place(module="M3", pole="neg"),),
        openable=(),
    )
    first = localise(case).next_readings[0]
    assert (first.module, first.pole, first.open_after) == ("M3", "neg", ("M6",))
    assert "repeat" not in first.why


def test_when_no_pole_can_be_reached_that_is_said() -> None:
    case = replace(
        read(a_pack(("M3", 4.0, 5.0e4)), ("M6",)), propose=True, reachable=(), openable=()
    )
    result = localise(case)
    assert result.next_readings == ()
    assert "nothing_to_propose" in [warning.code for warning in result.warnings]


def test_following_the_proposals_leads_to_a_confirmed_module() -> None:
    pack = a_pack(("M9", 2.5, 3.0e5))
    chance = Random(4)  # noqa: S311  (repeatable readings, not a secret)
    in_hand = meter_in_hand(METER, chance)
    case = replace(read(pack, ("M6",)), propose=True, several_prior=0.01)
    result = localise(case)
    while not result.confirmed and len(case.readings) < 12:
        asked = result.next_readings[0]
        probe = Probe(
            module=asked.module,
            pole=asked.pole,
            open_after=asked.open_after,
            shunt_ohm=asked.shunt_ohm,
        )
        taken = Reading(
            module=asked.module,
            pole=asked.pole,
            open_after=asked.open_after,
            shunt_ohm=asked.shunt_ohm,
            volts=meter_reading_v(pack, in_hand, probe, chance),
        )
        case = replace(case, readings=(*case.readings, taken))
        result = localise(case)
    assert result.confirmed
    assert [leak.module for leak in result.leaks] == ["M9"]
