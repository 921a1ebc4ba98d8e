"""What was quoted beside what was done: parts against those fitted, labour against hours worked.

For the manager, before the job is invoiced. Not here: how time is told apart
(`jobs.queries.course`) and the rows for the accounting program (`jobs.report.accounting`).
"""

from dataclasses import dataclass
from decimal import Decimal

from jobs.core.quote_answer import answer_in_force
from jobs.core.quoted import in_force, taken_options
from jobs.core.record import Record
from jobs.queries.course import Course, waited
from jobs.report.parts import parts_of
from jobs.steps.fault_localisation.items import OPTION, QUOTATION, QUOTE

__all__ = ["AgainstQuoted", "against_quoted"]

_NOTHING_IN, _IN = {"", "-", "–"}, 2
"""What stands for no part, in the column of a table of parts that names what came in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AgainstQuoted:
    """Quoted beside done.

    Attributes
    ----------
    parts_quoted : Decimal | None
        Pieces of the lines for parts, as approved; None without an approved quotation by lines.
    parts_fitted : int
        Modules and parts of the vehicle that the record says came in.
    labour_quoted_h : Decimal | None
        Labour that was approved in hours [h].
    worked_h : float
        From the times of the entries: every stretch of at most 30 min between two of them since
        the vehicle came [h].
    """

    parts_quoted: Decimal | None
    parts_fitted: int
    labour_quoted_h: Decimal | None
    worked_h: float

    @property
    def parts_differ(self) -> bool:
        """Whether more or fewer parts were fitted than were approved."""
        return self.parts_quoted is not None and self.parts_quoted != self.parts_fitted


def _fitted(record: Record) -> int:
    tables = (table for part in parts_of(record).values() for table in part.section.tables)
    rows = (row for table in tables if table.of_parts for row in table.rows)
    return sum(row[_IN] not in _NOTHING_IN for row in rows)


def against_quoted(record: Record, course: Course) -> AgainstQuoted:
    """Compare what was approved with what the record says was done.

    Parameters
    ----------
    record : Record
        The job as it stands.
    course : Course
        Its course in time.

    Returns
    -------
    AgainstQuoted
        Both, side by side.
    """
    worked_h = waited(course.waits, course.arrived_at)["work"] / 3600.0
    answer, version = answer_in_force(record, QUOTE), in_force(record, QUOTATION)
    parts = labour_h = None
    if answer is not None and answer.value == "approved" and version is not None:
        taken = taken_options(record, OPTION, version.number)
        lines = [
            each for each in version.given.value.with_options(taken).lines if not each.optional
        ]
        parts = sum((each.quantity for each in lines if each.kind == "part"), Decimal(0))
        hours = (each.quantity for each in lines if each.kind == "labour" and each.unit == "h")
        labour_h = sum(hours, Decimal(0))
    return AgainstQuoted(
        parts_quoted=parts,
        parts_fitted=_fitted(record),
        labour_quoted_h=labour_h,
        worked_h=worked_h,
    )
