"""Answers to torque lists and to closing the links of the string, for any step that has them."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from jobs.core.entry import Json
from jobs.core.item import Item
from jobs.core.link_check import check_links
from jobs.core.links import ABOVE, AS_MARKED, BELOW, START, LinkItems, last_positions
from jobs.core.record import Record
from jobs.core.torque import TorqueItems
from jobs.practice.book import Answer, Book, Pass
from jobs.practice.scene import Scene, Stuck
from packs.definition import PackDefinition, TorqueList

__all__ = ["link_book", "torque_book"]

Plan = Callable[[PackDefinition], TorqueList | None]
Rows = Callable[[Record], Sequence[str]]
_LIKE = 6
"""Joints that are left alone and read to compare with."""
_TEST_A = 100.0


def _stage(scene: Scene, plan: Plan, parts: Mapping[str, str]) -> tuple[float, float]:
    """Give target and tolerance of a stage [Nm, %]."""
    listed = plan(scene.pack)
    if listed is None:
        raise Stuck("The definition has no such torque list")
    stage = listed.stages[int(parts["stage"]) - 1]
    return stage.target_nm, stage.tolerance_percent


def _tool(scene: Scene, target_nm: float) -> str:
    """Take the torque tool whose range holds the target."""
    for piece in scene.shelf("torque_tool"):
        fits = piece.ratings["low_nm"] <= target_nm <= piece.ratings["high_nm"]
        if fits and piece.reason is None:
            return piece.id
    raise Stuck(f"No torque tool reaches {target_nm:g} Nm")


def torque_book(items: TorqueItems, plan: Plan, rows: Rows | None = None) -> Book:
    """Give the answers to one torque list.

    Parameters
    ----------
    items : TorqueItems
        The step's own items.
    plan : Plan
        Which list of the definition it is.
    rows : Rows | None
        The bolts that were undone; None for all that are asked.

    Returns
    -------
    Book
        Values within half the tolerance; a tool for the first stage and wherever it changes.
    """

    def undone(scene: Scene, item: Item[Any]) -> list[str]:
        wanted = item.rows if rows is None else rows(scene.record())
        return [row for row in item.rows if row in wanted]

    def values(scene: Scene, item: Item[Any], parts: Mapping[str, str]) -> Json:
        target_nm, tolerance = _stage(scene, plan, parts)
        bolts = undone(scene, item)
        if not bolts:
            return Pass.LEAVE
        return {bolt: scene.bench.near(target_nm, tolerance / 2.0) for bolt in bolts}

    def tool(scene: Scene, _item: Item[Any], parts: Mapping[str, str]) -> Json:
        taken = _tool(scene, _stage(scene, plan, parts)[0])
        if parts["stage"] == "1":
            return taken
        before = str(int(parts["stage"]) - 1)
        same = taken == _tool(scene, _stage(scene, plan, {"stage": before})[0])
        return Pass.LEAVE if same else taken

    return {items.values.key: values, items.tool.key: tool}


def _last_link(pack: PackDefinition, undone: Sequence[str]) -> str:
    """Choose the link that closes last: the first of the undone ones."""
    for names in pack.sections():
        for name in names:
            if f"{name} pos" in undone:
                return name
            if f"{name} neg" in undone:
                return START + name
    raise Stuck("No link was undone")


def _split(pack: PackDefinition, link: str) -> dict[str, tuple[str, ...]]:
    """Give the modules on both sides of a link in its section."""
    first = link.removeprefix(START)
    names = next(names for names in pack.sections() if first in names)
    at = 0 if link.startswith(START) else names.index(first) + 1
    return {BELOW: names[:at], ABOVE: names[at:]}


def _choice_of(undone: Rows) -> Answer:
    def last_after(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
        return _last_link(scene.pack, undone(scene.record()))

    return last_after


def _voltages(links: LinkItems) -> Book:
    """Give the answers before the last link closes."""

    def cell_v(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
        return f"{scene.recipe.cell_v:.3f}"

    def part_v(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
        link = scene.record().get(links.last_after) or ""
        return {
            part: f"{sum(scene.bench.module_v(name) for name in names):.1f}"
            for part, names in _split(scene.pack, link).items()
            if names
        }

    def gap_v(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
        return scene.bench.near(0.6, 40.0)

    def polarity(_scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
        return AS_MARKED

    return {
        links.cell_v.key: cell_v,
        links.part_v.key: part_v,
        links.gap_v.key: gap_v,
        links.polarity.key: polarity,
    }


def link_book(links: LinkItems, undone: Rows) -> Book:
    """Give the answers to closing the links of the string.

    Parameters
    ----------
    links : LinkItems
        The step's own items.
    undone : Rows
        Busbar positions that were undone.

    Returns
    -------
    Book
        Torque, voltages before the last link, and the joints afterwards.
    """

    def current(_scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
        return f"{_TEST_A:g}"

    def drops(scene: Scene, item: Item[Any], _parts: Mapping[str, str]) -> Json:
        record = scene.record()
        asked = check_links(record, links, undone(record)).joints_missing
        like = [row for row in item.rows if row not in asked][:_LIKE]
        rows = [*asked, *like]
        used = scene.picked(links.joint_meter)
        return dict(zip(rows, scene.bench.drops_mv(rows, _TEST_A, used), strict=True))

    def others(record: Record) -> Sequence[str]:
        last = last_positions(record.pack, record.get(links.last_after)) if record.pack else ()
        return [row for row in undone(record) if row not in last]

    return {
        links.last_after.key: _choice_of(undone),
        **torque_book(links.others, lambda pack: pack.busbar_joints, others),
        **_voltages(links),
        **torque_book(links.last, lambda pack: pack.busbar_joints),
        links.current.key: current,
        links.drops.key: drops,
    }
