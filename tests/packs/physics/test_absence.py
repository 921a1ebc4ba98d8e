import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs.physics.absence import PAIRS, AbsenceResult, DeadReading, Pair, Proof, absence
from packs.physics.instrument import Accuracy, CalculationRefused

GOOD = Proof(expected_v=400.0, reading_v=398.0)
NOTHING = [DeadReading(between=pair, volts=0.2) for pair in PAIRS]


def judged(
    readings: list[DeadReading],
    *,
    before: Proof | None = GOOD,
    after: Proof | None = GOOD,
    threshold_v: float = 5.0,
) -> AbsenceResult:
    return absence(
        threshold_v=threshold_v,
        instrument=Accuracy(),
        proof_before=before,
        readings=readings,
        proof_after=after,
    )


def codes(result: AbsenceResult) -> set[str]:
    return {reason.code for reason in result.reasons}


def with_one(pair: Pair, **shown: float) -> list[DeadReading]:
    others = [reading for reading in NOTHING if reading.between != pair]
    return [*others, DeadReading(between=pair, **shown)]


def test_three_pairs_at_nothing_between_two_proofs_are_dead() -> None:
    result = judged(NOTHING)
    assert result.verdict == "dead"
    assert result.worst_v == 0.2


@pytest.mark.parametrize("pair", PAIRS)
def test_one_pair_at_the_threshold_is_live(pair: Pair) -> None:
    result = judged(with_one(pair, volts=-60.0))
    assert (result.verdict, result.worst_between, result.worst_v) == ("live", pair, 60.0)


def test_a_reading_whose_allowance_reaches_the_threshold_is_live() -> None:
    assert judged(with_one("pos-neg", volts=4.96)).verdict == "live"
    assert judged(with_one("pos-neg", volts=4.90)).verdict == "dead"


def test_polarity_does_not_matter() -> None:
    assert judged(with_one("pos-neg", volts=-4.96)).verdict == "live"


def test_the_largest_reading_of_a_pair_counts() -> None:
    readings = [*NOTHING, DeadReading(between="pos-neg", volts=7.0)]
    assert judged(readings).verdict == "live"


@pytest.mark.parametrize("name", ["before", "after"])
def test_a_missing_proof_is_void(name: str) -> None:
    missing = judged(NOTHING, before=None) if name == "before" else judged(NOTHING, after=None)
    assert missing.verdict == "void"
    assert codes(missing) == {f"proof_{name}_missing"}


@pytest.mark.parametrize(
    ("reading_v", "verdict"), [(360.0, "dead"), (440.0, "dead"), (359.0, "void"), (0.0, "void")]
)
def test_a_proof_may_be_off_by_a_tenth(reading_v: float, verdict: str) -> None:
    assert judged(NOTHING, after=Proof(expected_v=400.0, reading_v=reading_v)).verdict == verdict


def test_a_small_source_may_be_off_by_the_allowance() -> None:
    coarse = Accuracy(accuracy_percent=1.0, accuracy_counts=5, resolution_v=1.0)
    proof = Proof(expected_v=12.0, reading_v=17.0)
    result = absence(
        threshold_v=60.0,
        instrument=coarse,
        proof_before=proof,
        readings=NOTHING,
        proof_after=proof,
    )
    assert result.verdict == "dead"


def test_a_proof_with_leads_swapped_counts_by_magnitude() -> None:
    assert judged(NOTHING, before=Proof(expected_v=400.0, reading_v=-399.0)).verdict == "dead"


@pytest.mark.parametrize("pair", PAIRS)
def test_a_missing_pair_is_void(pair: Pair) -> None:
    result = judged([reading for reading in NOTHING if reading.between != pair])
    assert (result.verdict, codes(result)) == ("void", {"pair_missing"})


def test_no_reading_at_all_is_void_and_has_no_worst() -> None:
    result = judged([])
    assert (result.verdict, result.worst_v, result.worst_between) == ("void", None, None)


def test_an_indicator_below_the_threshold_proves_and_above_it_does_not() -> None:
    assert judged(with_one("pos-neg", below_v=5.0)).verdict == "dead"
    result = judged(with_one("pos-neg", below_v=6.0))
    assert (result.verdict, codes(result)) == ("void", {"too_coarse"})
    assert judged(with_one("pos-neg", below_v=6.0), threshold_v=60.0).verdict == "dead"


def test_a_voltage_seen_without_proof_is_live_all_the_same() -> None:
    result = judged(with_one("pos-neg", volts=380.0), before=None)
    assert result.verdict == "live"
    assert codes(result) == {"live", "proof_before_missing"}


@pytest.mark.parametrize(
    ("reading", "path"),
    [
        (DeadReading(between="pos-neg"), "readings.0"),
        (DeadReading(between="pos-neg", volts=1.0, below_v=2.0), "readings.0"),
        (DeadReading(between="pos-neg", below_v=0.0), "readings.0.below_v"),
    ],
)
def test_a_reading_says_one_thing(reading: DeadReading, path: str) -> None:
    with pytest.raises(CalculationRefused) as refused:
        judged([reading])
    assert refused.value.path == path


def test_a_source_without_voltage_proves_nothing() -> None:
    with pytest.raises(CalculationRefused) as refused:
        judged(NOTHING, before=Proof(expected_v=0.0, reading_v=0.0))
    assert refused.value.path == "proof_before.expected_v"


def test_a_threshold_of_zero_is_refused() -> None:
    with pytest.raises(CalculationRefused) as refused:
        judged(NOTHING, threshold_v=0.0)
    assert refused.value.path == "threshold_v"


@given(st.lists(st.tuples(st.sampled_from(PAIRS), st.floats(-1000, 1000)), max_size=6))
def test_dead_means_every_pair_was_read_and_stayed_below(pairs: list[tuple[Pair, float]]) -> None:
    result = judged([DeadReading(between=pair, volts=volts) for pair, volts in pairs])
    if result.verdict == "dead":
        assert {pair for pair, _ in pairs} == set(PAIRS)
        assert all(abs(volts) < 5.0 for _, volts in pairs)
    assert result.reasons
