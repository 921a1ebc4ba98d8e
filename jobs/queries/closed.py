"""The jobs closed within a span of days of the workshop."""

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from jobs.core.record import Record
from jobs.queries.records import JobInfo, info_of, job_rows, record_of
from workshop import queries as shop

__all__ = ["closed_between"]


def closed_between(first: date, last: date, *, now: datetime) -> Iterator[tuple[JobInfo, Record]]:
    """Give the jobs closed from one day to another, both included, earliest first.

    Parameters
    ----------
    first, last : date
        Days of the workshop.
    now : datetime
        The server's time.

    Returns
    -------
    Iterator[tuple[JobInfo, Record]]
        Jobs with their records, read one by one.
    """
    zone = shop.shop().zone
    begin = datetime.combine(first, time.min, zone)
    end = datetime.combine(last + timedelta(days=1), time.min, zone)
    rows = job_rows().filter(closed_at__gte=begin, closed_at__lt=end).order_by("closed_at")
    for row in rows:
        record = record_of(row.pk, now=now)
        if record is not None:
            yield info_of(row), record
