"""What changed from one version of a quotation to another: which lines, by how much.

Lines belong together by kind and text; of several alike the first goes with the first. What one
version has more of is new, what it has less of is gone. Not here: which versions there are
(`jobs.core.quoted`).
"""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from jobs.core.quotation import Quotation, QuotationLine

__all__ = ["Change", "LineChange", "changed"]


@dataclass(frozen=True, slots=True)
class LineChange:
    """A line as it is now, or as it last was; before and after, None where there is none."""

    line: QuotationLine
    before: QuotationLine | None
    after: QuotationLine | None

    @property
    def net_difference(self) -> Decimal:
        """By how much it costs more [currency]; negative where less."""
        before, after = (Decimal(0) if x is None else x.net for x in (self.before, self.after))
        return after - before


@dataclass(frozen=True, slots=True)
class Change:
    """What changed between two versions.

    Attributes
    ----------
    lines : tuple[LineChange, ...]
        The lines that are not alike: those of the later version in its order, then those gone.
    total_difference : Decimal
        By how much the total grew [currency]; negative where it fell.
    """

    lines: tuple[LineChange, ...]
    total_difference: Decimal


def changed(before: Quotation, after: Quotation) -> Change:
    """Compare two versions.

    Parameters
    ----------
    before, after : Quotation
        The earlier and the later version.

    Returns
    -------
    Change
        Empty lines and a difference of 0 where both are alike.
    """
    waiting: dict[tuple[str, str], list[QuotationLine]] = defaultdict(list)
    for line in before.lines:
        waiting[line.kind, line.text].append(line)
    found = []
    for line in after.lines:
        alike = waiting[line.kind, line.text]
        found.append(LineChange(line, alike.pop(0) if alike else None, line))
    gone = [LineChange(line, line, None) for left in waiting.values() for line in left]
    different = tuple(each for each in (*found, *gone) if each.before != each.after)
    return Change(different, after.total - before.total)
