"""A torque tool counts the bolts it tightened, once, and ends where its cycles are used up."""

import uuid
from collections.abc import Iterator

import pytest

from jobs.core.entry import Kind
from jobs.core.item import qualifier_of
from jobs.practice.player import play
from jobs.practice.scene import TECHNICIAN, Draft, Scene
from jobs.steps.module_swap.items import LINKS
from tests.play import a_job_at
from workshop import queries
from workshop.actions import count_torque_cycles

pytestmark = pytest.mark.django_db

FIRST = qualifier_of(stage="1")
BOLTS = {"M9 pos": "5", "M10 neg": "5"}
LIMIT = 5000


@pytest.fixture
def bench() -> Iterator[Scene]:
    """A swap in which the first busbar bolts are to be tightened, its tool picked."""
    with a_job_at("module_swap") as scene:
        play(scene, until=LINKS.others.values.key)
        yield scene


def tool(scene: Scene) -> str:
    return scene.picked(LINKS.others.tool).id


def cycles(scene: Scene, label: str = "") -> int:
    piece = scene.shop.equipment[label] if label else tool(scene)
    return int(queries.equipment_snapshot(piece, scene.clock.now())["cycles"])


def tighten(scene: Scene, *, key: str = "", stage: str = FIRST) -> tuple[str, frozenset[str]]:
    item = LINKS.others.values.key
    draft = Draft(kind=Kind.VALUE, by=TECHNICIAN, item=item, qualifier=stage, value=BOLTS)
    reply = scene.send(draft, key)
    return reply.verdict, reply.codes


def use_up(scene: Scene, left: int) -> None:
    """Leave a tool so many cycles, as if other jobs had used it."""
    missing = LIMIT - left - cycles(scene)
    while missing > 0:
        count_torque_cycles(equipment_id=tool(scene), cycles=min(missing, 1000))
        missing -= 1000


def test_each_bolt_of_an_accepted_list_counts_once_for_the_tool_picked(bench: Scene) -> None:
    before, key = cycles(bench), str(uuid.uuid5(uuid.UUID(bench.job), "a tap"))
    assert tighten(bench, key=key)[0] == "applied"
    assert tighten(bench, key=key)[0] == "applied"
    assert cycles(bench) == before + len(BOLTS)


def test_the_other_tool_does_not_count(bench: Scene) -> None:
    other = next(label for label, key in bench.shop.equipment.items()
                 if label.startswith("N") and key != tool(bench))  # fmt: skip
    before = cycles(bench, other)
    tighten(bench)
    assert cycles(bench, other) == before


def test_a_refused_list_does_not_count(bench: Scene) -> None:
    tighten(bench)
    before = cycles(bench)
    assert tighten(bench)[0] == "refused"
    assert cycles(bench) == before


def test_a_struck_list_does_not_count_back_and_the_next_one_counts_again(bench: Scene) -> None:
    before = cycles(bench)
    tighten(bench)
    bench.strike(LINKS.others.values, "wrong order", at=FIRST)
    assert cycles(bench) == before + len(BOLTS)
    tighten(bench)
    assert cycles(bench) == before + 2 * len(BOLTS)


def test_a_later_stage_without_a_tool_of_its_own_counts_for_the_last_one(bench: Scene) -> None:
    before = cycles(bench)
    tighten(bench)
    assert bench.record().given(LINKS.others.tool, qualifier_of(stage="2")) is None
    assert tighten(bench, stage=qualifier_of(stage="2"))[0] == "applied"
    assert cycles(bench) == before + 2 * len(BOLTS)


@pytest.mark.parametrize(("left", "verdict", "codes"), [
    (1, "applied", frozenset()),
    (0, "refused", frozenset({"torque_tool_worn"})),
])  # fmt: skip
def test_a_tool_takes_its_last_cycle_and_no_further_list(
    bench: Scene, left: int, verdict: str, codes: frozenset[str]
) -> None:
    use_up(bench, left)
    before = cycles(bench)
    assert tighten(bench) == (verdict, codes)
    assert cycles(bench) == before + (len(BOLTS) if verdict == "applied" else 0)


@pytest.mark.parametrize(("left", "code"), [(1, ""), (0, "cycles_used")])
def test_a_tool_that_is_picked_carries_its_cycles_and_what_bars_it(
    bench: Scene, left: int, code: str
) -> None:
    use_up(bench, left)
    worn = tool(bench)
    bench.strike(LINKS.others.tool, "again", at=FIRST)
    bench.enter(LINKS.others.tool, worn, at=FIRST)
    picked = bench.record().given(LINKS.others.tool, FIRST)
    assert picked is not None
    assert picked.entry.value["cycles"] == str(LIMIT - left)
    assert picked.value.unusable == code
    assert picked.value.in_date(bench.clock.now().date()) is (code == "")
