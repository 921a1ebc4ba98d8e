"""Links of the string: names, positions undone, and what happens where names do not tell."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.entry import Kind
from jobs.core.link_check import check_links, joint_blockers, last_link_blockers
from jobs.core.links import (
    asked_links,
    last_positions,
    link_choices,
    link_ends,
    link_items,
    undone_positions,
)
from packs.definition import PackDefinition
from tests.builders import Bench, a_bench, a_pack, an_equipment

LINKS = link_items("some_step", "live_work")
VAN = a_pack()
METER = an_equipment(
    "milliohm_meter", accuracy_percent=0.2, accuracy_counts=2, resolution_mv=0.001, current_a=100
)


def _numbered(pack: PackDefinition) -> PackDefinition:
    """Give a pack whose busbar positions are plain numbers."""
    rows = tuple(str(number) for number in range(1, 29))
    joints = pack.busbar_joints.model_copy(update={"positions": rows})
    return pack.model_copy(update={"busbar_joints": joints})


def _last(bench: Bench, link: str) -> None:
    bench.add(Kind.VALUE, link, item=LINKS.last_after.key)


@pytest.mark.parametrize(
    ("link", "ends"),
    [
        ("M9", ("M9 pos", "M10 neg")),
        ("M14", ("M14 pos",)),
        ("M7", ("M7 pos",)),
        ("before M1", ("M1 neg",)),
        ("elsewhere", ("elsewhere pos",)),
    ],
)
def test_a_link_names_the_poles_it_joins(link: str, ends: tuple[str, ...]) -> None:
    assert link_ends(VAN, link) == ends


def test_every_link_of_both_sections_may_close_last() -> None:
    values = [choice.value for choice in link_choices(VAN)]
    assert values[:2] == ["before M1", "M1"]
    assert values[8:10] == ["before M8", "M8"]
    assert len(values) == len(VAN.modules) + 2


def test_a_module_at_the_end_of_the_string_has_one_link() -> None:
    assert undone_positions(VAN, ["M1"]) == ("M1 neg", "M1 pos", "M2 neg")
    assert undone_positions(VAN, ["M8"]) == ("M8 neg", "M8 pos", "M9 neg")


def test_the_disconnect_is_no_busbar() -> None:
    assert undone_positions(VAN, [], ["M7"]) == ()
    assert undone_positions(VAN, [], ["M6"]) == ("M6 pos", "M7 neg")


def test_positions_without_module_names_are_all_asked() -> None:
    pack = _numbered(VAN)
    assert undone_positions(pack, ["M1"]) == pack.busbar_joints.positions
    assert last_positions(pack, "M9") == pack.busbar_joints.positions
    bench = Bench(pack=pack)
    _last(bench, "M9")
    keys = {item.key for item in asked_links(bench.record(), LINKS, ())}
    assert LINKS.others.values.key not in keys
    assert LINKS.last.values.key in keys
    assert check_links(bench.record(), LINKS, ()).others is None
    assert last_link_blockers(bench.record(), LINKS, check_links(bench.record(), LINKS, ())) == ()


def test_nothing_is_asked_before_a_pack_is_chosen_and_little_before_the_last_link_is() -> None:
    assert asked_links(Bench().record(), LINKS, ()) == ()
    assert check_links(Bench().record(), LINKS, ()).last is None
    assert len(asked_links(a_bench().record(), LINKS, ())) == 2


def test_torque_of_other_links_is_asked_only_where_others_were_undone() -> None:
    bench = a_bench()
    _last(bench, "M9")
    needed = {
        undone: next(
            item.needed
            for item in asked_links(bench.record(), LINKS, undone)
            if item.key == LINKS.others.values.key
        )
        for undone in (("M9 pos", "M10 neg"), ("M9 pos", "M3 neg"))
    }
    assert needed == {("M9 pos", "M10 neg"): False, ("M9 pos", "M3 neg"): True}
    check = check_links(bench.record(), LINKS, ("M9 pos", "M10 neg"))
    assert check.others is not None
    assert check.others.done


def test_a_section_closed_at_its_end_is_one_part() -> None:
    bench = a_bench()
    bench.put(LINKS.cell_v, "3.6")
    _last(bench, "before M8")
    (part,) = check_links(bench.record(), LINKS, ()).parts
    assert (part.name, round(part.expected_v, 1)) == ("Part on the positive side", 151.2)


def test_a_link_that_is_not_in_the_pack_gives_no_part() -> None:
    bench = a_bench()
    bench.put(LINKS.cell_v, "3.6")
    _last(bench, "M99")
    assert check_links(bench.record(), LINKS, ()).parts == ()


def test_joints_are_judged_against_like_joints_where_the_maker_gives_no_limit() -> None:
    bench = Bench(pack=VAN.model_copy(update={"joint_limit_micro_ohm": None}))
    bench.put(LINKS.joint_meter, METER)
    bench.put(LINKS.current, "100")
    rows = ("M1 neg", "M1 pos", "M2 neg", "M2 pos")
    bench.put(LINKS.drops, dict(zip(rows, ("1.9", "1.5", "1.5", "1.5"), strict=True)))
    check = check_links(bench.record(), LINKS, rows)
    (blocker,) = joint_blockers(bench.record(), LINKS, check)
    assert (blocker.code, blocker.countersign) == ("link_joint_ratio", True)
    assert blocker.params["position"] == "M1 neg"
    assert {figure.verdict for figure in check.joints} == {"none"}


@given(st.sampled_from([module.name for module in VAN.modules]))
def test_both_poles_of_a_module_taken_out_are_always_asked(name: str) -> None:
    asked = undone_positions(VAN, [name])
    assert {f"{name} neg", f"{name} pos"} <= set(asked)
    assert len(asked) <= 4


def test_the_items_are_named_after_their_step() -> None:
    assert replace(LINKS.gap_v).key == "some_step.gap_v"
