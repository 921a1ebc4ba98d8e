"""The picture of a watch: one mark a check, none where nothing was measured."""

from datetime import UTC, datetime, timedelta

import pytest

from jobs.core.watch import Check, Point, Word
from jobs.core.watch_picture import watch_picture
from packs.picture import Disc, Picture
from packs.svg import svg

START = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)


def check(hours: float, point_c: float, word: Word = Word.CALM, corrects: str = "") -> Check:
    return Check(
        key=f"{hours}",
        at=START + timedelta(hours=hours),
        ambient_c=10.0,
        points=(Point("Top", point_c),),
        word=word,
        corrects=corrects,
    )


def drawn(*checks: Check) -> Picture:
    picture = watch_picture(START, checks, limit_c=10.0, title="Above the air")
    assert picture is not None
    return picture


def discs(picture: Picture) -> list[Disc]:
    return [shape for shape in picture.shapes if isinstance(shape, Disc)]


def test_nothing_is_drawn_while_nothing_was_measured() -> None:
    smoke = Check(key="s", at=START, word=Word.EVACUATE)
    assert watch_picture(START, (), limit_c=10.0, title="") is None
    assert watch_picture(START, (smoke,), limit_c=10.0, title="") is None


def test_each_check_has_its_mark_and_its_form_says_whether_it_was_calm() -> None:
    picture = drawn(check(0, 11), check(1, 12), check(2, 24, Word.ESCALATE))
    assert [disc.form for disc in discs(picture)] == ["disc", "disc", "octagon"]
    assert [disc.x for disc in discs(picture)] == sorted(disc.x for disc in discs(picture))
    assert discs(picture)[2].y < discs(picture)[0].y
    assert "3 checks in 2 h; at most 14.0 K above the air around." in svg(picture)


def test_a_corrected_check_is_left_out() -> None:
    assert len(discs(drawn(check(0, 80), check(0.1, 11, corrects="0")))) == 1


@pytest.mark.parametrize(("hours", "point_c"), [(0.0, 11.0), (168.0, 5.0), (400.0, 300.0)])
def test_whatever_was_measured_stays_inside_the_picture(hours: float, point_c: float) -> None:
    picture = drawn(check(0, 11), check(hours, point_c))
    for disc in discs(picture):
        assert 0 <= disc.x <= picture.width_mm
        assert 0 <= disc.y <= picture.height_mm
