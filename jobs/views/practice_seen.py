"""The open pack of a practice job as its page shows it: the map, and a closer look at a module."""

from typing import Any

from django.utils.safestring import mark_safe

from jobs.core.reason import InputRefused
from jobs.practice.room.running import Running
from jobs.practice.room.seen import seen_at, seen_map
from jobs.report.wording import wording_of
from jobs.steps.fault_localisation.items import SEEN
from packs.svg import svg

__all__ = ["closely", "seen_context"]


def _said(run: Running, refused: InputRefused) -> str:
    return wording_of(run.info.job_id, run.scene.record()).said(refused.blocker)


def seen_context(run: Running) -> dict[str, Any]:
    """Give what the page shows of the open pack; with the lid on, why it shows nothing."""
    try:
        drawn = seen_map(run)
    except InputRefused as refused:
        return {"item": SEEN.key, "refused": _said(run, refused)}
    return {
        "item": SEEN.key,
        "drawing": mark_safe(svg(drawn)),  # noqa: S308 - made of shapes by our own writer
        "modules": [module.name for module in run.scene.pack.modules],
    }


def closely(run: Running, module: str) -> str:
    """Say what is seen at a module, or why nothing is; empty where there is no such module."""
    if module not in {each.name for each in run.scene.pack.modules}:
        return ""
    try:
        return seen_at(run, module)
    except InputRefused as refused:
        return _said(run, refused)
