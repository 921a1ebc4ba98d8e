"""Which column is what in the logs of each source, as it was last taken."""

from collections.abc import Sequence
from dataclasses import dataclass

from packs.logs.wanted import Columns, plain
from packs.models import LogSource


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSourceInfo:
    """A source of logs by the name the workshop gave it."""

    name: str
    columns: Columns
    current_sign: str

    def fits(self, names: Sequence[str]) -> bool:
        """Tell whether a file with these columns has all that is remembered."""
        there = {plain(name) for name in names}
        return all(plain(name) in there for _, name in self.columns.named())


def log_sources() -> tuple[LogSourceInfo, ...]:
    """Return every remembered source, the one used last first."""
    return tuple(
        LogSourceInfo(
            name=row.name,
            columns=Columns(
                time_s=row.columns["time_s"],
                current_a=row.columns["current_a"],
                cell_v=tuple(row.columns["cell_v"]),
                temperature_c=tuple(row.columns["temperature_c"]),
            ),
            current_sign=row.current_sign,
        )
        for row in LogSource.objects.all()
    )
