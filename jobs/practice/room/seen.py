"""What is seen in the open pack of a practice job: in words, on the pack map, and close up.

The map is a picture as data. What it marks is what anybody would see with the lid off; which
module leaks is not told by it where nothing shows.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from django.utils.translation import gettext

from jobs.core.reason import InputRefused, Reason
from jobs.practice.room.running import Running
from jobs.steps.fault_localisation.items import SEEN
from packs.definition import PackDefinition
from packs.pack_map import pack_map
from packs.picture import Disc, Label, Line, Picture, Shape, Stroke

__all__ = ["REASONS", "seen_at", "seen_map", "what_is_seen"]

LID_ON = Reason("practice_lid_on", "The lid is on: nothing can be seen.")
REASONS = (LID_ON,)

_SEEN: Final = {
    "coolant": "A film of coolant stands under module {module}; its lower edge is wet.",
    "water": "Drops of clear water stand on and under module {module}.",
    "corrosion": "Green and white crusts at the side of module {module}.",
    "nothing": "Dry and clean everywhere; nothing stands out.",
}
_MARKS: Final = {"coolant": "film", "water": "drops", "corrosion": "crusts"}
"""What stands on the map beside the drawn marks, so that no colour has to tell it."""
_UP_MM, _HALF_MM, _FOOT_MM = 4.4, 5.5, 15.0
"""From a module's name to its upper edge, half its width, its height on the map [mm]."""

Place = tuple[float, float]
"""Middle of a module's upper edge [mm]."""


def _open(run: Running) -> None:
    if not run.scene.record().pack_open:
        raise InputRefused(LID_ON(SEEN.key))


def _wet(run: Running) -> tuple[str, ...]:
    """Name the modules at which something is seen."""
    return () if run.hidden.recipe.seen == "nothing" else run.hidden.modules


def what_is_seen(run: Running) -> tuple[str, ...]:
    """Say what is seen in the pack with its lid off.

    Raises
    ------
    InputRefused
        While the lid is on.
    """
    _open(run)
    module = ", ".join(run.hidden.modules)
    return (gettext(_SEEN[run.hidden.recipe.seen]).format(module=module),)


def seen_at(run: Running, module: str) -> str:
    """Say what is seen at one module, looked at closely.

    Raises
    ------
    InputRefused
        While the lid is on.
    """
    _open(run)
    if module in _wet(run):
        return gettext(_SEEN[run.hidden.recipe.seen]).format(module=module)
    return gettext("Module {module}: dry and clean; nothing stands out.").format(module=module)


def _places(drawn: Picture, pack: PackDefinition) -> dict[str, Place]:
    """Give where each module stands on the map, by its name's label."""
    names = {module.name for module in pack.modules}
    return {
        each.text: (each.x, each.y - _UP_MM)
        for each in drawn.shapes
        if isinstance(each, Label) and each.text in names
    }


def _links(pack: PackDefinition, at: dict[str, Place]) -> Iterator[tuple[str, Place, Place]]:
    """Give each link by the module below it, with the middles of the modules it joins."""
    for below, above in pairwise(module.name for module in pack.modules):
        (x1, y1), (x2, y2) = at[below], at[above]
        yield below, (x1, y1 + _FOOT_MM / 2.0), (x2, y2 + _FOOT_MM / 2.0)


def _bars(pack: PackDefinition, at: dict[str, Place], apart: Sequence[str]) -> Iterator[Shape]:
    """Draw closed links, to lie under the modules."""
    for below, (x1, y1), (x2, y2) in _links(pack, at):
        if below not in apart:
            yield Line(x1=x1, y1=y1, x2=x2, y2=y2, ink="hv", width=1.2)


def _rings(pack: PackDefinition, at: dict[str, Place], apart: Sequence[str]) -> Iterator[Shape]:
    """Draw a ring in the gap of each open link, over the modules' edges."""
    for below, (x1, y1), (x2, y2) in _links(pack, at):
        if below in apart:
            yield Disc(x=(x1 + x2) / 2.0, y=(y1 + y2) / 2.0, radius=1.3, form="ring", ink="hv")


def _film(x: float, y: float) -> Iterator[Shape]:
    for row in (1.4, 2.6):
        rise = (0.5, -0.5, 0.5, -0.5, 0.5)
        steps = enumerate(rise)
        points = tuple((x - 4.4 + 2.2 * step, y + _FOOT_MM - row + up) for step, up in steps)
        yield Stroke(points=points, ink="petrol", width=0.6)


def _drops(x: float, y: float) -> Iterator[Shape]:
    for step, rise in enumerate((1.6, 3.0, 1.4, 2.8)):
        yield Disc(
            x=x - 3.6 + 2.4 * step, y=y + _FOOT_MM - rise, radius=0.7, form="ring", ink="petrol"
        )


def _crusts(x: float, y: float) -> Iterator[Shape]:
    for side in (-1.0, 1.0):
        edge = x + side * (_HALF_MM - 0.9)
        teeth = enumerate((0.7, -0.7) * 2)
        points = tuple((edge + tooth, y + 10.2 + 1.3 * step) for step, tooth in teeth)
        yield Stroke(points=points, ink="petrol", width=0.6)


_DRAWN: Final = {"coolant": _film, "water": _drops, "corrosion": _crusts}


def _marked(kind: str, modules: Sequence[str], at: dict[str, Place]) -> Iterator[Shape]:
    for x, y in (at[name] for name in modules):
        yield from _DRAWN[kind](x, y)
        words = gettext(_MARKS[kind])
        yield Label(x=x, y=y + 9.4, text=words, size=2.6, ink="petrol", bold=True)


def seen_map(run: Running) -> Picture:
    """Draw the open pack: modules, links, and the marks where something is seen.

    Parameters
    ----------
    run : Running
        A practice job with its lid off.

    Returns
    -------
    Picture
        The pack map; its description says all of it in words.

    Raises
    ------
    InputRefused
        While the lid is on.
    """
    words = what_is_seen(run)
    pack, kind = run.scene.pack, run.hidden.recipe.seen
    apart = run.rig.links_open(run.scene.record())
    drawn = pack_map(pack, title=gettext("What is seen in the open pack"))
    at = _places(drawn, pack)
    frame, *others = drawn.shapes
    links = gettext("Open after: {names}.").format(names=", ".join(apart)) if apart else ""
    parts = (gettext("{count} modules.").format(count=len(pack.modules)), *words, links)
    bars, rings = _bars(pack, at, apart), _rings(pack, at, apart)
    shapes = (frame, *bars, *others, *rings, *_marked(kind, _wet(run), at))
    return replace(drawn, shapes=shapes, description=" ".join(filter(None, parts)))
