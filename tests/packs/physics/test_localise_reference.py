"""Reference cases with known truth, made with a circuit simulator: tests/data/localise_*.json."""

import json
from pathlib import Path
from typing import Any

import pytest

from packs.physics.instrument import Meter
from packs.physics.localise import LocaliseCase, Module, Reading, localise

DATA = Path(__file__).parents[2] / "data"


def reference(name: str) -> list[dict[str, Any]]:
    cases: list[dict[str, Any]] = json.loads((DATA / f"localise_{name}.json").read_text())
    return cases


def case_from(given_input: dict[str, Any]) -> LocaliseCase:
    fields = dict(given_input)
    fields["meter"] = Meter(**fields["meter"])
    fields["modules"] = tuple(Module(**each) for each in fields["modules"])
    fields["readings"] = tuple(
        Reading(**{**each, "open_after": tuple(each["open_after"])}) for each in fields["readings"]
    )
    return LocaliseCase(**fields)


@pytest.mark.parametrize("known", reference("one_leak"))
def test_one_leak_is_among_the_likely_and_never_confirmed_from_the_disconnect_alone(
    known: dict[str, Any],
) -> None:
    result = localise(case_from(known["input"]))
    truth = known["truth"]
    assert set(truth["modules"]) <= set(result.likely)
    assert result.modules[0].name == truth["modules"][0]
    assert result.verdict in ("named", "narrowed")
    assert not result.confirmed
    assert not result.inconsistent
    assert result.next_readings
    assert result.leak_ohm_low is not None
    assert result.leak_ohm_high is not None
    assert result.leak_ohm_low <= truth["leak_ohm"][0] <= result.leak_ohm_high
    assert result.position_cells_low is not None
    assert result.position_cells_high is not None
    assert result.position_cells_low <= truth["position_cells"][0] <= result.position_cells_high


@pytest.mark.parametrize("known", reference("two_leaks"))
def test_two_leaks_are_both_named_and_confirmed_once_the_links_beside_them_were_open(
    known: dict[str, Any],
) -> None:
    result = localise(case_from(known["input"]))
    assert result.verdict == "named"
    assert result.confirmed
    assert {leak.module for leak in result.leaks} == set(known["truth"]["modules"])
    assert set(result.likely) == set(known["truth"]["modules"])
    assert result.several_leaks_probability > 0.95
    assert result.next_readings == ()
