"""Remembering which column is what in the logs of a source."""

from datetime import datetime
from typing import Any
from uuid import UUID

from packs.models import LogSource


def remember_log_source(
    *, name: str, columns: dict[str, Any], current_sign: str, by: UUID | None, now: datetime
) -> None:
    """Keep a mapping under the name of its source; an older one of that name gives way.

    Parameters
    ----------
    name : str
        What the workshop calls the source.
    columns : dict
        Header names, checked before.
    current_sign : str
        As `packs.logs.reading` takes it.
    by : UUID | None
        Who took it so.
    now : datetime
        The server's time (UTC).
    """
    LogSource.objects.update_or_create(
        name=name,
        defaults={
            "columns": columns,
            "current_sign": current_sign,
            "changed_at": now,
            "changed_by": by,
        },
    )
