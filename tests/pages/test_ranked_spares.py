"""Where a spare is picked: best first by match, with its reasons; the others say why not."""

import time

import pytest

from jobs.practice.scene import Scene
from jobs.steps import STEPS
from jobs.steps.module_swap.items import LINKS, SPARES
from jobs.views.picks import SparePick, picks_for
from packs.actions import add_spare
from packs.spare_tests import SpareTest
from packs.spares import NewSpare
from workshop import clock

pytestmark = pytest.mark.django_db
SWAP = STEPS[4]


def ranked(scene: Scene) -> list[SparePick]:
    picks = picks_for(SWAP, scene.record(), ()).spares
    return [each for each in picks if isinstance(each, SparePick)]


def add(scene: Scene, serial: str, **measured: float) -> None:
    """Take a spare of the van's kind into stock, tested today."""
    test = SpareTest(tested_on=clock.now().date(), insulation_ohm=5e8, **measured)  # type: ignore[arg-type]
    new = NewSpare(serial, "OB-M6-120", "nmc", 6, "From our own stock", test=test)
    add_spare(new=new, by=None, now=clock.now())


def test_the_best_stands_first_with_its_reasons_and_the_rest_say_why(scene: Scene) -> None:
    first = ranked(scene)
    assert next(each.serial for each in first if not each.excluded) == "OB-M6-22841"
    assert "are not known" in " ".join(first[0].advice)
    scene.enter(SPARES.string_ah, {"M1": "117.0", "M2": "116.0"})
    scene.enter(LINKS.cell_v, "3.555")
    found = {each.serial: each for each in ranked(scene)}
    assert list(found)[:2] == ["OB-M6-22841", "OB-M6-23107"]
    best, weak = found["OB-M6-22841"], found["OB-M6-20017"]
    assert float(best.points) > 90
    assert "A stronger spare is only worth that" in " ".join(best.reasons)
    # A manager may accept a weak one, so it can be picked; it says what it costs.
    assert (weak.excluded, weak.usable, weak.why) == (True, True, "does not match")
    assert "hold the whole string down to 109.2 Ah" in " ".join(weak.reasons)
    picks = picks_for(SWAP, scene.record(), ()).spares
    others = [each for each in picks if not isinstance(each, SparePick)]
    assert all(not each.usable and each.why for each in others)
    assert "does not fit, OB-M6-120 is needed" in others[0].why


def test_figures_that_cannot_be_true_bar_a_spare(scene: Scene) -> None:
    add(scene, "OB-M6-99001", capacity_ah=100.0, cell_v=2.2)
    found = {each.serial: each for each in ranked(scene)}
    assert (found["OB-M6-99001"].usable, found["OB-M6-99001"].excluded) == (False, True)


def test_a_shelf_of_two_hundred_is_ranked_before_anybody_waits(scene: Scene) -> None:
    for number in range(200):
        add(scene, f"OB-M6-5{number:04d}", capacity_ah=112.0 + number / 40, cell_v=3.56)
    began = time.perf_counter()
    assert len(ranked(scene)) >= 200
    assert time.perf_counter() - began < 1.0
