"""What a card shows beside an entry that is taken piece by piece: bolts of a stage, samples.

Plain data in words, made before the template runs.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from jobs.core.entry import Entry
from jobs.core.item import Item, Shape
from jobs.core.section import Quantity
from jobs.core.torque_sheet import Bolt, TorqueSheet
from jobs.report.wording import Wording
from jobs.steps.seal_test.items import SampleSheet
from packs.svg import svg
from workshop import figures_text

__all__ = ["BoltCard", "SamplingCard", "bolts_of", "sampling_of"]


@dataclass(frozen=True, slots=True)
class OffBolt:
    """A bolt out of tolerance, with the entry that a correction strikes."""

    bolt: Bolt
    entry: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BoltCard:
    """A stage of a torque list.

    Attributes
    ----------
    sheet : TorqueSheet
        The stage: bolts, pattern, target.
    drawing : SafeString
        Its drawing as SVG.
    limit, within, click : str
        Target with its source, what is within tolerance, and what a click stands for, in words.
    click_at : str
        The target as a click is sent.
    off : tuple[OffBolt, ...]
        Bolts out of tolerance that were entered singly.
    """

    sheet: TorqueSheet
    drawing: SafeString
    limit: str
    within: str
    click: str
    click_at: str
    off: tuple[OffBolt, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SamplingCard:
    """A series taken sample by sample: when it began by the server's clock, and the last sample."""

    started: str
    now: str
    count: int
    last: str


def bolts_of(
    item: Item[Any], qualifier: str, words: Wording, mine: Sequence[Entry]
) -> BoltCard | None:
    """Give the stage of a torque list that a card shows; None for every other item."""
    if item.shape is not Shape.TORQUE or item.sheet is None:
        return None
    sheet = item.sheet(qualifier)
    if not isinstance(sheet, TorqueSheet):
        return None
    target = figures_text.quantity(sheet.target_nm, "Nm")
    single = {next(iter(entry.value)): entry.key for entry in mine if len(entry.value) == 1}
    wrong = (bolt for bolt in sheet.bolts if bolt.state == "off")
    return BoltCard(
        sheet=sheet,
        # Every text inside a picture is escaped where it is drawn.
        drawing=mark_safe(svg(sheet.picture)),  # noqa: S308
        limit=words.limit(
            Quantity(sheet.target_nm, "Nm"), sheet.limit_kind, sheet.limit_source
        ),
        within=figures_text.span(sheet.low_nm, sheet.high_nm, "Nm"),
        click=gettext("Clicked at {target}").format(target=target),
        click_at=f"{sheet.target_nm:.10g}",
        off=tuple(OffBolt(bolt, single[bolt.name]) for bolt in wrong if bolt.name in single),
    )  # fmt: skip


def sampling_of(item: Item[Any], words: Wording) -> SamplingCard | None:
    """Give what a card shows beside the next sample; None for every other item."""
    sheet = item.sheet("") if item.shape is Shape.SAMPLE and item.sheet is not None else None
    if not isinstance(sheet, SampleSheet):
        return None
    last = "" if sheet.last is None else _last(sheet, words)
    started = "" if sheet.started_at is None else sheet.started_at.isoformat()
    return SamplingCard(
        started=started, now=sheet.now.isoformat(), count=sheet.count, last=last
    )  # fmt: skip


def _last(sheet: SampleSheet, words: Wording) -> str:
    last = sheet.last
    if last is None:
        return ""
    figures = (Quantity(last.gauge_pa, "Pa"), Quantity(last.temp_c, "degC"),
               Quantity(last.barometer_pa, "Pa"))  # fmt: skip
    return ", ".join(words.quantity(figure) for figure in figures)
