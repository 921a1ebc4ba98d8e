"""What is odd about a value, in words: for the card that shows it and the field that takes it.

Here: what a sample of the seal test is expected to be, by the pack's definition. Not here: what is
odd about a single reading (`jobs.core.doubts`).
"""

from collections.abc import Iterator
from typing import Any

from jobs.core.doubts import doubts_of, outside_expected
from jobs.core.entry import Json
from jobs.core.item import Item, Shape
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.report.wording import Wording

__all__ = ["doubts_said"]

SAMPLE_FROM, SAMPLE_TO = 0.3, 1.3
"""A gauge between these parts of the test pressure raises no doubt [1]: shop default."""


def _sample(record: Record, item: Item[Any], stored: Json) -> Iterator[Blocker]:
    """Doubt a gauge that is far from the test pressure: another unit, or a leak that is felt."""
    test = None if record.pack is None else record.pack.seal_test
    if item.shape is not Shape.SAMPLE or test is None:
        return
    low, high = test.test_pressure_low_pa, test.test_pressure_high_pa
    if low is not None and high is not None:
        gauge_pa = float(stored["gauge_pa"])
        yield from outside_expected(item, gauge_pa, SAMPLE_FROM * low, SAMPLE_TO * high)


def doubts_said(record: Record, item: Item[Any], stored: Json, words: Wording) -> tuple[str, ...]:
    """Say what is odd about a value that can be taken.

    Parameters
    ----------
    record : Record
        The job as it stands.
    item : Item
        What was asked.
    stored : Json
        The value in its stored form.
    words : Wording
        Names, zone and language.

    Returns
    -------
    tuple[str, ...]
        Sentences; empty for most values.
    """
    found = (*doubts_of(record, item, stored), *_sample(record, item, stored))
    return tuple(words.said(one) for one in found)
