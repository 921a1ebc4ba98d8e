"""What a check means: where it stays calm, escalates, or sends everybody away."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.limits import Limits
from jobs.core.reason import InputRefused, say
from jobs.core.watch import Check, Point, Sign, Word
from jobs.core.watch_check import (
    Readings,
    TypedCheck,
    judge,
    limits_used,
    read_check,
    reasons_from,
    stored,
)
from packs.definition import Figure

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
LIMITS = Limits()
ORDER = (Word.CALM, Word.ESCALATE, Word.EVACUATE)


def readings(*points_c: float, ambient_c: float | None = 15.0, signs: str = "") -> Readings:
    return Readings(
        ambient_c=ambient_c,
        points=tuple(Point(f"P{n}", value) for n, value in enumerate(points_c)),
        signs=frozenset(Sign(each) for each in signs.split()),
        note="",
        typed={},
    )


def before(minutes: float, *points_c: float, signs: str = "", key: str = "b") -> Check:
    read = readings(*points_c, signs=signs)
    at = NOON - timedelta(minutes=minutes)
    return Check(key=key, at=at, points=read.points, signs=read.signs, ambient_c=15.0)


def judged(
    read: Readings, *earlier: Check, known: str = "", limits: Limits = LIMITS
) -> tuple[Word, set[str]]:
    signs = frozenset(Sign(each) for each in known.split())
    word, reasons = judge(read, earlier, at=NOON, known=signs, limits=limits)
    return word, {reason.code for reason in reasons}


def test_an_even_module_near_the_air_is_calm() -> None:
    assert judged(readings(16, 17, 18, 17, 16)) == (Word.CALM, set())


@pytest.mark.parametrize(
    ("read", "code"),
    [
        (readings(25.1, 25.0), "watch_above_ambient"),
        (readings(14, 19.1), "watch_spread"),
        (readings(60, 59, ambient_c=55), "watch_hot"),
    ],
)
def test_a_hot_or_uneven_module_escalates(read: Readings, code: str) -> None:
    assert judged(read) == (Word.ESCALATE, {code})


@pytest.mark.parametrize("read", [readings(25, 25), readings(14, 19), readings(59.9, ambient_c=55)])
def test_on_the_limit_it_is_still_calm(read: Readings) -> None:
    assert judged(read)[0] is Word.CALM


@pytest.mark.parametrize(
    ("minutes", "was_c", "is_c", "word"),
    [
        (15, 16, 17, Word.ESCALATE),
        (15, 16, 16.9, Word.CALM),
        (60, 16, 19.9, Word.CALM),
        (60, 16, 20, Word.ESCALATE),
        (1, 16, 16.3, Word.CALM),
        (1, 16, 16.4, Word.ESCALATE),
    ],
)
def test_a_point_that_gets_warmer_too_fast_escalates(
    minutes: float, was_c: float, is_c: float, word: Word
) -> None:
    assert judged(readings(is_c), before(minutes, was_c))[0] is word


def test_a_point_is_compared_with_the_last_check_in_which_it_was_measured() -> None:
    both, one = before(30, 16, 16, key="a"), before(15, 16, key="b")
    assert judged(readings(16, 17.5), both, one)[0] is Word.CALM
    assert judged(readings(16, 18), both, one) == (Word.ESCALATE, {"watch_rise"})


def test_a_corrected_check_is_not_compared_with() -> None:
    wrong = before(15, 10, key="wrong")
    right = Check(key="right", at=NOON - timedelta(minutes=14), corrects="wrong")
    assert judged(readings(16), wrong)[1] == {"watch_rise"}
    assert judged(readings(16), wrong, right)[0] is Word.CALM


@pytest.mark.parametrize("sign", ["smoke", "hissing", "smell"])
def test_smoke_hissing_or_smell_sends_everybody_away_without_a_figure(sign: str) -> None:
    word, codes = judged(readings(ambient_c=None, signs=sign))
    assert (word, codes) == (Word.EVACUATE, {f"watch_{sign}"})


def test_eighty_degrees_send_everybody_away_and_say_so_first() -> None:
    word, reasons = judge(readings(20, 80), (), at=NOON, known=frozenset(), limits=LIMITS)
    assert word is Word.EVACUATE
    assert [reason.code for reason in reasons][:1] == ["watch_evacuate"]


@pytest.mark.parametrize("sign", ["swelling", "fluid"])
def test_swelling_or_fluid_escalates_where_it_is_new(sign: str) -> None:
    read = readings(16, signs=sign)
    assert judged(read) == (Word.ESCALATE, {f"watch_{sign}"})
    assert judged(read, known=sign)[0] is Word.CALM
    assert judged(read, before(60, 16, signs=sign))[0] is Word.CALM


def test_a_shop_that_tightens_its_limits_escalates_earlier() -> None:
    tight = Figure(value=3.0, kind="shop_default", source="")
    own = LIMITS.model_copy(update={"watch_above_ambient_c": tight})
    assert judged(readings(18.5))[0] is Word.CALM
    assert judged(readings(18.5), limits=own) == (Word.ESCALATE, {"watch_above_ambient"})


temperatures = st.floats(min_value=-20, max_value=120).map(lambda value: round(value, 1))
signs = st.sets(st.sampled_from(list(Sign)), max_size=5)


@settings(max_examples=50)
@given(
    points=st.lists(temperatures, min_size=1, max_size=6),
    seen=signs,
    more=signs,
    hotter=st.floats(min_value=0, max_value=50),
    was=temperatures,
)
def test_a_hotter_point_or_a_further_sign_never_gives_a_milder_word(
    points: list[float], seen: set[Sign], more: set[Sign], hotter: float, was: float
) -> None:
    top = max(range(len(points)), key=lambda place: points[place])
    worse = [value + hotter if place == top else value for place, value in enumerate(points)]
    earlier = before(20, was)
    mild, _ = judged(readings(*points, signs=" ".join(seen)), earlier)
    harsh, _ = judged(readings(*worse, signs=" ".join(seen | more)), earlier)
    assert ORDER.index(harsh) >= ORDER.index(mild)


def typed(**more: object) -> TypedCheck:
    fields: dict[str, object] = {"ambient_c": "12,5", "points": (("Top", "13.0"),), **more}
    return TypedCheck(**fields)  # type: ignore[arg-type]


def test_a_check_is_read_as_it_is_typed() -> None:
    read = read_check(typed(points=(("Top", "13.0"), (" Left  side ", "−2 °C"), ("Right", ""))))
    assert read.ambient_c == 12.5
    assert read.points == (Point("Top", 13.0), Point("Left side", -2.0))
    kept = stored(read, Word.CALM, (), limits=LIMITS, corrects="")
    assert kept["ambient_c"] == "12.5"
    assert kept["points"][0] == {"name": "Top", "point_c": "13.0"}
    assert kept["limits"] == limits_used(LIMITS)


@pytest.mark.parametrize(
    ("sent", "code", "field"),
    [
        (typed(ambient_c=""), "watch_no_ambient", "ambient_c"),
        (typed(ambient_c="warm"), "watch_no_number", "ambient_c"),
        (typed(ambient_c="1500.5"), "watch_range", "ambient_c"),
        (typed(points=()), "watch_no_point", "point_0_c"),
        (typed(points=(("Top", "12"), ("", "13"))), "watch_no_name", "point_1_name"),
        (typed(points=(("Top", "12"), ("Top", "13"))), "watch_name_twice", "point_1_name"),
        (typed(points=(("Top", "1.000,5"),)), "watch_no_number", "point_0_c"),
        (typed(points=(("x" * 61, "12"),)), "watch_too_long", "point_0_name"),
        (typed(note="x" * 1001), "watch_too_long", "note"),
        (typed(signs=("sparks",)), "watch_unknown_sign", "signs"),
    ],
)
def test_what_cannot_be_read_is_refused_at_its_field(
    sent: TypedCheck, code: str, field: str
) -> None:
    with pytest.raises(InputRefused) as refused:
        read_check(sent)
    assert (refused.value.blocker.code, refused.value.blocker.item) == (code, field)


def test_with_smoke_nobody_has_to_measure() -> None:
    read = read_check(TypedCheck(signs=("smoke",)))
    assert (read.ambient_c, read.points) == (None, ())


def test_reasons_are_said_again_from_what_was_kept() -> None:
    read = readings(81, 40)
    _, reasons = judge(read, (before(15, 60),), at=NOON, known=frozenset(), limits=LIMITS)
    kept = [
        {"code": r.code, "params": {name: str(value) for name, value in r.params.items()}}
        for r in reasons
    ]
    again = reasons_from(kept)
    first = [say(r.text, r.params, names={}, zone=UTC) for r in reasons]
    assert [say(r.text, r.params, names={}, zone=UTC) for r in again] == first
    assert "P0: 81.0 °C, people leave at 80 °C." in first


def test_a_reason_that_is_no_longer_known_says_its_code() -> None:
    assert reasons_from([{"code": "watch_old", "params": {}}])[0].text == "watch_old"
