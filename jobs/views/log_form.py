"""The form on which a log's columns are named: from a guess or what is remembered, and back.

Here: what the page shows of each column, and what was sent. Not here: reading the log
(`jobs.queries.logs`), nor the pages (`jobs.views.log_import`).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import Any, Final

from django.http import QueryDict
from django.utils.translation import gettext

from jobs.core.entry import Json
from packs.logs.guesses import Role
from packs.logs.preview import LogPreview
from packs.logs.wanted import Columns, plain
from packs.queries import LogSourceInfo
from packs.words import translated

__all__ = ["Column", "Mapping", "first_mapping", "sent_mapping"]

CHARGE, DISCHARGE = "charge_positive", "discharge_positive"
MOST_TYPED: Final = 500
SHOWN_VALUES: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of the file: what it is taken as, and why.

    Attributes
    ----------
    index : int
        Its place in the file, from zero.
    name, unit : str
        As in the header, and the row under it.
    values : tuple[str, ...]
        What stands in its first rows.
    role : str
        "time", "current", "cell", "temperature", or empty for not used.
    place : str
        Of a cell: its number in series from pack negative.
    reason : str
        Why it was taken so.
    """

    index: int
    name: str
    unit: str
    values: tuple[str, ...]
    role: str
    place: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapping:
    """What the form says: columns, sign, source and name."""

    columns: tuple[Column, ...]
    name: str
    sign: str = CHARGE
    source: str = ""
    clock: str = ""
    from_positive: bool = False
    faults: tuple[str, ...] = ()

    def of(self, role: Role) -> tuple[Column, ...]:
        """Give the columns of one role: cells in series order, others as in the file."""
        found = [column for column in self.columns if column.role == role]
        if role is Role.CELL:
            found.sort(key=lambda column: (_number(column.place), column.index))
            if self.from_positive:
                found.reverse()
        return tuple(found)

    @property
    def others(self) -> tuple[Column, ...]:
        """Columns of every role but cells, and those not used."""
        return tuple(column for column in self.columns if column.role != Role.CELL)

    @property
    def cells(self) -> tuple[Column, ...]:
        """Columns taken as cells, in series order from pack negative."""
        return self.of(Role.CELL)

    def raw(self, sha256: str) -> Json:
        """Write it as the door takes it."""
        return {
            "sha256": sha256,
            "name": self.name,
            "source": self.source,
            "columns": {
                "time_s": _first(self.of(Role.TIME)),
                "current_a": _first(self.of(Role.CURRENT)),
                "cell_v": [column.name for column in self.cells],
                "temperature_c": [column.name for column in self.of(Role.TEMPERATURE)],
            },
            "current_sign": self.sign,
            "clock": self.clock,
        }

    def other_sign(self) -> "Mapping":
        """Give the same with charging and discharging the other way round."""
        return replace(self, sign=DISCHARGE if self.sign == CHARGE else CHARGE)


def _number(place: str) -> int:
    return int(place) if place.isascii() and place.isdigit() and len(place) < 6 else 0  # noqa: PLR2004


def _first(columns: Sequence[Column]) -> str:
    return columns[0].name if columns else ""


def _values(preview: LogPreview, index: int) -> tuple[str, ...]:
    return tuple(row[index][:24] for row in preview.rows[:SHOWN_VALUES])


def _columns(preview: LogPreview, taken: Columns | None, why: str) -> tuple[Column, ...]:
    """Make the columns of the form; `taken` is what is remembered, None for the guess."""
    wanted = preview.columns if taken is None else taken
    cells = {} if wanted is None else {plain(n): k for k, n in enumerate(wanted.cell_v, start=1)}
    roles: dict[str, str] = {}
    if taken is not None:
        roles = {plain(taken.time_s): Role.TIME, plain(taken.current_a): Role.CURRENT}
        roles |= dict.fromkeys(map(plain, taken.temperature_c), Role.TEMPERATURE)
        roles |= dict.fromkeys(cells, Role.CELL)
    guessed = [guess for guess in preview.guesses if guess.role == Role.CELL]
    counted: dict[int, int] = {guess.index: place for place, guess in enumerate(guessed, start=1)}
    found = []
    for guess in preview.guesses:
        key = plain(guess.name)
        role = guess.role if taken is None else roles.get(key, "")
        place = cells.get(key) or counted.get(guess.index)
        found.append(
            Column(
                index=guess.index,
                name=guess.name,
                unit=preview.units[guess.index] if preview.units else "",
                values=_values(preview, guess.index),
                role=str(role),
                place=str(place or "") if role == Role.CELL else "",
                reason=why if taken is not None and role else translated(guess.reason, gettext),
            )
        )
    return tuple(found)


def _more_cells(preview: LogPreview, taken: Columns) -> bool:
    """Tell whether a file has cells beside the remembered ones: it is of another, longer pack."""
    known = {plain(name) for name in taken.cell_v}
    cells = [guess for guess in preview.guesses if guess.role == Role.CELL]
    return any(plain(guess.name) not in known for guess in cells)


def first_mapping(
    preview: LogPreview, sources: Sequence[LogSourceInfo], *, name: str, chosen: str | None
) -> Mapping:
    """Give the form as it is first shown: by a remembered source that fits, else by the guess.

    Parameters
    ----------
    preview : LogPreview
        The log at first sight.
    sources : Sequence[LogSourceInfo]
        What is remembered, the one used last first.
    name : str
        Of the file.
    chosen : str | None
        The source asked for; empty for the guess, None for whichever fits.

    Returns
    -------
    Mapping
        Every column with its role and reason.
    """
    fitting = (
        s
        for s in sources
        if s.fits(preview.names)
        and chosen in {None, s.name}
        and not _more_cells(preview, s.columns)
    )
    source = next(fitting, None)
    if source is None:
        return Mapping(columns=_columns(preview, None, ""), name=_file_name(name))
    why = gettext("as the last time for {source}").format(source=source.name)
    return Mapping(
        columns=_columns(preview, source.columns, why),
        name=_file_name(name),
        sign=source.current_sign,
        source=source.name,
    )


def _file_name(name: str) -> str:
    """Give the last part of a file's name, whatever system it comes from."""
    return PurePosixPath(name.replace("\\", "/")).name[:120] or "log.csv"


def _faults(columns: Sequence[Column]) -> tuple[str, ...]:
    """Say what is chosen twice or not at all."""
    faults = []
    for role, label in ((Role.TIME, gettext("time")), (Role.CURRENT, gettext("current"))):
        count = sum(column.role == role for column in columns)
        if count != 1:
            words = gettext("{count} columns are taken as the {label}: choose one.")
            faults.append(words.format(count=count, label=label))
    places = [column.place for column in columns if column.role == Role.CELL]
    typed = [place for place in places if place]
    if len(set(typed)) != len(typed) or any(_number(place) == 0 for place in typed):
        faults.append(gettext("Each cell needs a number of its own, counted from pack negative."))
    if not places:
        faults.append(gettext("No column is taken as a cell."))
    return tuple(faults)


def _numbered(columns: Sequence[Column]) -> tuple[Column, ...]:
    """Give cells that were added without a number the numbers after the last one."""
    last = max((_number(c.place) for c in columns if c.role == Role.CELL), default=0)
    found = []
    for column in columns:
        place = column.place
        if column.role == Role.CELL and not place:
            last += 1
            place = str(last)
        found.append(replace(column, place=place if column.role == Role.CELL else ""))
    return tuple(found)


def sent_mapping(preview: LogPreview, sent: QueryDict) -> Mapping:
    """Read the form as it was sent; what makes no sense is said in its faults."""
    roles: set[str] = {str(role) for role in Role}
    start, columns = _columns(preview, None, ""), list[Column]()
    for column in start:
        role = sent.get(f"role-{column.index}", column.role)
        place = sent.get(f"place-{column.index}", "").strip()[:8]
        role = role if role in roles else ""
        columns.append(replace(column, role=role, place=place if role == Role.CELL else ""))
    numbered = _numbered(columns)

    def typed(field: str) -> Any:
        return sent.get(field, "").strip()[:MOST_TYPED]

    return Mapping(
        columns=numbered,
        name=_file_name(typed("name")),
        sign=DISCHARGE if sent.get("sign") == DISCHARGE else CHARGE,
        source=typed("source")[:120],
        clock=typed("clock"),
        from_positive="from_positive" in sent,
        faults=_faults(numbered),
    )
