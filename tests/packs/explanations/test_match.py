import re
from pathlib import Path

import pytest

from packs.explanations.match import CALLED, SHOWN, explained
from packs.physics import match_exclusion, match_score
from packs.physics.match import MatchCase, SpareModule, Wanted, match


def a_case(*capacities_ah: float | None) -> MatchCase:
    wanted = Wanted(
        chemistry="nmc",
        part="CB-6",
        cells=6,
        capacity_ah=(60.0, 61.0),
        resistance_mohm=(6.0,),
        cell_v=3.7,
        temperature_c=25.0,
    )
    spares = tuple(
        SpareModule(
            serial=f"S{index}",
            chemistry="nmc",
            part="CB-6",
            cells=6,
            capacity_ah=capacity_ah,
            resistance_mohm=6.0 + 0.01 * index,
            cell_v=3.7 + 0.002 * index,
            temperature_c=25.0,
            days_since_test=float(index),
        )
        for index, capacity_ah in enumerate(capacities_ah)
    )
    return MatchCase(wanted=wanted, spares=spares)


def worked_out(text: str) -> float | None:
    """Return what such words as "40 x 2.5 % / 5 %" come to, capped where they say so."""
    words = text.replace("%", "").replace("days", "").replace("of charge", "")
    product, _, most = words.partition(",")
    if " x " not in product:
        return None
    factor, _, rest = product.partition(" x ")
    share, _, whole = rest.partition("/")
    points = float(factor) * float(share) / (float(whole) if whole else 1.0)
    return min(points, float(most.split()[0])) if most else points


def test_the_points_of_each_spare_are_those_of_the_result() -> None:
    case = a_case(60.0, 58.2, 64.0, 57.5)
    result = match(case)
    lines = explained(case, result)
    for place, entry in enumerate(result.ranked, 1):
        line = next(each for each in lines if each.what == f"Spare {entry.serial}: place {place}")
        assert line.value == f"{entry.score:g} points"


def test_what_is_worked_out_by_hand_is_what_a_reason_costs() -> None:
    case = a_case(60.0, 58.2, 64.0, 57.5, 63.0, 59.0, 60.5)
    checked = 0
    for line in explained(case, match(case)):
        if not line.what.endswith("what it loses"):
            continue
        for row in line.numbers.splitlines()[1:]:
            name, by_hand, points = (part.strip() for part in row.split("  ") if part.strip())
            value = worked_out(by_hand)
            if value is not None:
                checked += 1
                assert float(points) == pytest.approx(value, abs=0.06), name
    assert checked >= 20


def test_an_excluded_spare_stands_with_its_reasons_and_the_last_step_names_the_best() -> None:
    case = a_case(60.0, 40.0)
    lines = explained(case, match(case))
    assert any(line.value == "excluded: capacity too low" for line in lines)
    assert lines[-1].value == "best: S0"
    none = a_case(40.0)
    assert explained(none, match(none))[-1].value == "none suits"


def test_every_price_and_every_hard_rule_has_a_name() -> None:
    sources = [
        Path(module.__file__ or "").read_text("utf-8") for module in (match_exclusion, match_score)
    ]
    codes = re.findall(r'\b(?:Cost|Message)\(\s*"(\w+)"', "\n".join(sources))
    assert len(codes) > 20
    assert set(CALLED) == set(codes)


def test_the_limits_are_worked_out() -> None:
    case = a_case(60.0)
    values = [line.value for line in explained(case, match(case))]
    assert "57 Ah" in values
    assert "4.8 mohm to 7.2 mohm" in values


def test_a_string_of_which_nothing_is_known_says_so() -> None:
    case = MatchCase(
        wanted=Wanted(chemistry="nmc", part="CB-6", cells=6), spares=a_case(60.0).spares
    )
    lines = explained(case, match(case))
    assert [line.value for line in lines].count("not known") == 2


def test_a_long_list_is_cut_and_says_so() -> None:
    case = a_case(*[60.0] * (SHOWN + 3))
    lines = explained(case, match(case))
    assert any(line.what.startswith("3 more spares") for line in lines)


def test_spares_with_one_serial_are_not_worked_out_from_the_wrong_plate() -> None:
    case = a_case(60.0)
    case = MatchCase(wanted=case.wanted, spares=(*case.spares, *case.spares))
    lines = explained(case, match(case))
    assert lines[-1].value == "best: S0"
