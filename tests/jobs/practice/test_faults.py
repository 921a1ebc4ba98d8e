"""The hidden vehicle: the same seed gives the same one, and each kind of fault is what it says."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.practice.room.faults import EASY, FAULTS, HARDER, draw_fault, hidden
from jobs.practice.room.rig import Rig
from jobs.practice.scenario import pack_text
from packs.definition import PackDefinition, from_toml

PACKS = {slug: from_toml(pack_text(slug)) for slug in ("delivery-van", "city-hatchback", "minibus")}

seeds = st.integers(0, 999_999)
kinds = st.sampled_from(sorted(FAULTS))
packs = st.sampled_from(sorted(PACKS)).map(PACKS.__getitem__)


@given(seeds, kinds, packs)
@settings(max_examples=60)
def test_the_same_number_gives_the_same_vehicle(
    seed: int, fault: str, pack: PackDefinition
) -> None:
    one, other = hidden(seed, fault, pack), hidden(seed, fault, pack)
    assert one == other
    first, second = (Rig(each.recipe, pack, hidden=each) for each in (one, other))
    assert first.modules == second.modules


@given(seeds, kinds, packs)
@settings(max_examples=60)
def test_a_vehicle_has_the_fault_that_it_is_said_to_have(
    seed: int, fault: str, pack: PackDefinition
) -> None:
    made = hidden(seed, fault, pack)
    limit_ohm = 500.0 * pack.working_v
    leaks = {"vehicle_part": 0, "sound": 0, "two_leaks": 2}.get(fault, 1)
    assert len(set(made.modules)) == leaks
    assert len(made.parts) == (fault == "vehicle_part")
    assert set(made.parts) <= set(pack.vehicle_parts)
    for leak in made.recipe.leaks:
        assert 0.0 < leak.position_cells < pack.module_named(leak.module).cells
        assert leak.leak_ohm < 0.6 * limit_ohm
        assert (leak.leak_ohm > 0.25 * limit_ohm) or fault != "soft_leak"
        assert (leak.leak_ohm < 0.25 * limit_ohm) or fault not in {"hard_leak", "flat_meter"}
    assert all(ohm < 0.6 * limit_ohm for ohm in made.recipe.vehicle_leaks.values())
    assert bool(made.flat) == (fault == "flat_meter")
    assert bool(made.lapsed) == (fault == "out_of_date")
    assert (made.drying_h > 0) == (fault == "wet_leak")


@given(seeds)
@settings(max_examples=40)
def test_what_is_drawn_is_of_what_was_asked_for(seed: int) -> None:
    assert draw_fault(seed, "") in FAULTS
    assert draw_fault(seed, EASY) in {"hard_leak", "vehicle_part", "out_of_date"}
    assert draw_fault(seed, HARDER) not in {"hard_leak", "vehicle_part", "out_of_date"}
    assert draw_fault(seed, "soft_leak") == "soft_leak"


def test_every_kind_is_drawn_sometime() -> None:
    assert {draw_fault(seed, "") for seed in range(200)} == set(FAULTS)


def test_stickers_say_nothing_of_the_fault() -> None:
    for fault in FAULTS:
        made = hidden(5, fault, PACKS["minibus"])
        assert set(made.bench_words()) == {"lapsed", "cell_v"}


@pytest.mark.parametrize("fault", ["hard_leak", "soft_leak"])
def test_different_numbers_give_different_vehicles(fault: str) -> None:
    made = {hidden(seed, fault, PACKS["delivery-van"]).recipe.leaks for seed in range(20)}
    assert len(made) > 15
