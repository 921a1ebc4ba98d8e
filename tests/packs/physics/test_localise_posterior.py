"""The posterior against plain counting, and what a further reading may do to it."""

from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.physics.instrument import Meter
from packs.physics.localise import LocaliseCase, Module, Reading, localise
from packs.physics.localise_draws import bells, unit_points
from packs.physics.localise_priors import LEAK_OHM_HIGH, LEAK_OHM_LOW, sound_at, sound_share
from packs.physics.localise_spans import Strips
from packs.physics.localise_spots import display_of
from packs.physics.posterior import explored, hypotheses_of, readings_of
from packs.physics.simulate import (
    MeterInHand,
    PackUnderTest,
    Probe,
    SimulatedLeak,
    SimulatedModule,
    meter_in_hand,
    meter_reading_v,
    settled_v,
)
from packs.physics.string_frame import Floats, frame_of

NAMES = ("A", "B", "C", "D")
COARSE = Meter(
    input_ohm=1.0e7, input_tolerance_percent=2.0, accuracy_percent=20.0, resolution_v=2.0
)
few = settings(max_examples=6, deadline=None)


def a_case(links: tuple[tuple[str, ...], ...], *leaks: tuple[str, float, float]) -> LocaliseCase:
    """Read a pack of four modules with a coarse meter."""
    pack = PackUnderTest(
        modules=tuple(SimulatedModule(name=name, cells_v=(3.7,) * 10) for name in NAMES),
        leaks=tuple(
            SimulatedLeak(module=module, position_cells=cells, leak_ohm=ohm)
            for module, cells, ohm in leaks
        ),
        sound_ohm=8.0e7,
    )
    chance = Random(2)  # noqa: S311  (repeatable readings, not a secret)
    in_hand = meter_in_hand(COARSE, chance)
    readings = []
    for open_after in links:
        above = NAMES[NAMES.index(open_after[-1]) + 1]
        for module, pole in ((open_after[-1], "pos"), (above, "neg")):
            for shunt_ohm in (None, 1.0e6):
                reading = Reading(
                    module=module,
                    pole="pos" if pole == "pos" else "neg",
                    open_after=open_after,
                    shunt_ohm=shunt_ohm,
                    volts=0.0,
                )
                probe = Probe(
                    module=reading.module,
                    pole=reading.pole,
                    open_after=open_after,
                    shunt_ohm=shunt_ohm,
                )
                volts = meter_reading_v(pack, in_hand, probe, chance)
                readings.append(replace(reading, volts=volts))
    return LocaliseCase(
        modules=tuple(Module(name=name, cells=10) for name in NAMES),
        cell_v=3.7,
        cell_v_spread_v=0.0,
        meter=COARSE,
        readings=tuple(readings),
        propose=False,
    )


def counted(case: LocaliseCase, leaks: int, draws: int = 200_000) -> Floats:
    """Draw everything from its prior and keep what fits: the mass of each pair of modules."""
    chance = np.random.default_rng(3)
    frame = frame_of(case)
    unit = chance.random((draws, 7))
    span = np.log(LEAK_OHM_HIGH / LEAK_OHM_LOW)
    g = np.exp(-np.log(LEAK_OHM_HIGH) + span * unit[:, :2])
    g[:, 1] *= leaks - 1
    at_v = float(frame.ends_v[-1]) * unit[:, 2:4]
    sound = sound_at(unit[:, 4])
    load = 1.0 / (case.meter.input_ohm * (1.0 + 0.02 * (2.0 * unit[:, 5] - 1.0)))
    shunt = 1.0e-6 / (1.0 + 0.01 * (2.0 * unit[:, 6] - 1.0))
    module = np.minimum(np.searchsorted(frame.ends_v, at_v, side="right") - 1, len(NAMES) - 1)
    fits = np.ones(draws)
    for reading in case.readings:
        first, end = frame.section(reading, reading.open_after)
        node_v = float(frame.ends_v[frame.node(reading)])
        inside = np.where((module >= first) & (module < end), g, 0.0)
        own = sound * (end - first) / len(NAMES)
        current = (inside * (node_v - at_v)).sum(axis=1)
        current += own * (node_v - 0.5 * float(frame.ends_v[first] + frame.ends_v[end]))
        whole = inside.sum(axis=1) + own + load + (shunt if reading.shunt_ohm else 0.0)
        fits *= display_of(case.meter).fit(np.full(draws, reading.volts), current / whole)
    masses = np.zeros((len(NAMES), len(NAMES)))
    if leaks == 1:
        np.add.at(masses, (module[:, 0], module[:, 0]), fits / draws)
    else:
        np.add.at(masses, (module.min(axis=1), module.max(axis=1)), fits / draws)
    return masses


def of_posterior(case: LocaliseCase, leaks: int) -> Floats:
    """The same masses from the posterior."""
    readings = readings_of(case, frame_of(case))
    prior = 0.0 if leaks == 1 else 1.0
    hypotheses = hypotheses_of(readings, none_prior=0.0, several_prior=prior)
    left = explored(readings, hypotheses, rows=9000)
    masses = np.zeros((len(NAMES), len(NAMES)))
    second = np.where(left.second < 0, left.first, left.second)
    np.add.at(masses, (left.first, second), left.weight)
    return masses


@pytest.mark.parametrize(
    ("leaks", "links", "found"),
    [
        (1, (("B",),), (("A", 4.0, 5.0e5),)),
        (1, (("B",), ("B", "A")), (("C", 9.0, 2.0e6),)),
        (2, (("B",),), (("A", 4.0, 5.0e5),)),
        (2, (("B",),), (("A", 4.0, 5.0e5), ("D", 3.0, 5.0e5))),
        (2, (("B",), ("C",)), (("A", 4.0, 1.5e6),)),
    ],
)
def test_masses_are_those_of_plain_counting(
    leaks: int, links: tuple[tuple[str, ...], ...], found: tuple[tuple[str, float, float], ...]
) -> None:
    case = a_case(links, *found)
    by_hand, by_posterior = counted(case, leaks), of_posterior(case, leaks)
    scatter = 4.0 * np.sqrt(by_hand / 200_000) + 0.05 * by_hand + 1.0e-5
    assert by_hand.sum() > 0.0
    assert (np.abs(by_posterior - by_hand) <= scatter).all()


@few
@given(
    ohm=st.floats(3.0e3, 2.0e6),
    cells=st.floats(0.5, 9.5),
    module=st.sampled_from(NAMES),
    shunted=st.booleans(),
)
def test_a_perfect_reading_never_widens_an_interval(
    ohm: float, cells: float, module: str, shunted: bool
) -> None:
    case = replace(a_case((("B",),), (module, cells, ohm)), several_prior=0.0)
    pack = PackUnderTest(
        modules=tuple(SimulatedModule(name=name, cells_v=(3.7,) * 10) for name in NAMES),
        leaks=(SimulatedLeak(module=module, position_cells=cells, leak_ohm=ohm),),
        sound_ohm=8.0e7,
    )
    shunt_ohm = 1.0e6 if shunted else None
    probe = Probe(module="A", pole="neg", open_after=("B",), shunt_ohm=shunt_ohm)
    volts = settled_v(pack, probe, MeterInHand(meter=COARSE, input_ohm=1.0e7).input_ohm)
    perfect = Reading(
        module="A", pole="neg", open_after=("B",), shunt_ohm=shunt_ohm, volts=round(volts, 1)
    )
    before = localise(case)
    after = localise(replace(case, readings=(*case.readings, perfect)))
    assert before.position_cells_low is not None
    assert before.position_cells_high is not None
    assert after.position_cells_low is not None
    assert after.position_cells_high is not None
    width = before.position_cells_high - before.position_cells_low
    assert after.position_cells_high - after.position_cells_low <= 1.05 * width + 0.05


def test_strips_meet_where_their_lines_say_so() -> None:
    strips = Strips(
        np.array([[10.0, -np.inf]]), np.array([[-1.0, 0.0]]),
        np.array([[np.inf, 2.0]]), np.array([[0.0, 1.0]]),
    )  # fmt: skip
    least, most = strips.resistances(np.array([0.0]), np.array([100.0]))
    assert (least[0], most[0]) == (4.0, 100.0)
    assert [float(end[0]) for end in strips.at(np.array([5.0]))] == [5.0, 7.0]


def test_strips_that_never_meet_leave_nothing() -> None:
    flat = np.array([[0.0, 0.0]])
    strips = Strips(np.array([[3.0, 0.0]]), flat, np.array([[9.0, 2.0]]), flat)
    least, most = strips.resistances(np.array([1.0]), np.array([100.0]))
    assert least[0] > most[0]


@given(share=st.floats(0.0, 1.0))
def test_shares_and_sizes_of_sound_insulation_are_two_sides_of_one_thing(share: float) -> None:
    assert float(sound_share(sound_at(np.array([share])))[0]) == pytest.approx(share, abs=1e-9)


@given(volts=st.floats(-1.0e3, 1.0e3), error=st.floats(-1.0, 1.0))
def test_whatever_could_be_shown_fits(volts: float, error: float) -> None:
    meter = Meter(input_ohm=1.0e7)
    display = display_of(meter)
    allowance_v = display.share * abs(volts) + display.counts_v
    shown_v = round(round((volts + error * allowance_v) / 0.01) * 0.01, 6)
    low_v, high_v = display.bounds(np.array([shown_v]))
    assert low_v[0] <= volts <= high_v[0]
    assert display.fit(np.array([shown_v]), np.array([volts]))[0] > 0.0
    assert display.fit(np.array([shown_v]), np.array([shown_v]))[0] == pytest.approx(1.0)
    assert display.fit(np.array([shown_v]), high_v + 0.01)[0] == 0.0


def test_draws_are_even_in_every_direction() -> None:
    points = unit_points(4096, 20)
    assert points.mean(axis=0) == pytest.approx(np.full(20, 0.5), abs=0.01)
    assert bells(points).std(axis=0) == pytest.approx(np.ones(20), abs=0.03)
