"""A log in a file, as the calculation cycle is asked through JSON.

Here: opening the file, and what contradicts itself between the fields. Not here: reading what is in
it (logs/), nor judging it (physics/cycle.py).
"""

from dataclasses import dataclass
from pathlib import Path

from packs.curves import curve_named
from packs.logs.reading import read_log
from packs.logs.text import LARGEST_LOG_BYTES, refused
from packs.logs.wanted import Columns
from packs.physics.cycle import cycle
from packs.physics.cycle_case import CycleCase, CycleLimits, CycleModule, CycleResult
from packs.physics.instrument import CalculationRefused
from packs.strict_json import InputRefused, Problem

__all__ = ["Columns", "CycleFileCase", "CycleLimits", "CycleModule", "cycle_of_file"]

DEFAULT_LIMITS = CycleLimits()


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleFileCase:
    """What cycle is asked, with the log still in its file.

    Parameters
    ----------
    file : str
        Relative to the working directory.
    columns : Columns
        Header names of what is wanted.
    current_sign : str
        ``charge_positive`` or ``discharge_positive``.
    modules : tuple of CycleModule
        In series order from pack negative.
    replaced : tuple of str
        Names of the modules that were put in.
    rated_ah : float or None
        Capacity when new, [Ah]
    curve : str or None
        Name of the chemistry's curve.
    limits : CycleLimits
        What the spreads may come to.
    """

    file: str
    columns: Columns
    current_sign: str
    modules: tuple[CycleModule, ...]
    replaced: tuple[str, ...] = ()
    rated_ah: float | None = None
    curve: str | None = None
    limits: CycleLimits = DEFAULT_LIMITS


def cycle_of_file(case: CycleFileCase) -> CycleResult:
    """Read a log and judge it.

    Parameters
    ----------
    case : CycleFileCase
        The fields of the interface.

    Returns
    -------
    result : CycleResult
        As `packs.physics.cycle.cycle` gives it.

    Raises
    ------
    InputRefused
        When fields contradict each other, or the file cannot be read as a log.
    """
    problems = _contradictions(case)
    if problems:
        raise InputRefused(problems)
    log = read_log(bytes_of(case.file), case.columns, case.current_sign)
    return cycle(
        CycleCase(
            log=log,
            modules=case.modules,
            replaced=case.replaced,
            rated_ah=case.rated_ah,
            curve=case.curve,
            limits=case.limits,
        )
    )


def bytes_of(file: str) -> bytes:
    """Return what a file holds.

    Parameters
    ----------
    file : str
        Relative to the working directory.

    Returns
    -------
    content : bytes
        All of it.

    Raises
    ------
    InputRefused
        At path ``file``, when there is none, it is none, or it is too large.
    """
    path = Path(file)
    try:
        if path.is_dir():
            raise refused("is a folder: name the file of the log in it")
        if not path.exists():
            raise refused("is not there: the name is taken from the folder you are working in")
        if not path.is_file():
            raise refused("is no plain file")
        if path.stat().st_size > LARGEST_LOG_BYTES:
            raise refused("is larger than 300 MB: export a shorter stretch or fewer columns")
        return path.read_bytes()
    except OSError as error:
        raise refused(f"cannot be read: {error.strerror or 'no access'}") from error


def _contradictions(case: CycleFileCase) -> list[Problem]:
    """Return what does not fit together before the file is opened."""
    names = [module.name for module in case.modules]
    problems: list[Problem] = [
        (f"modules.{index}.name", f"{name!r} is given twice: keep one")
        for index, name in enumerate(names)
        if name in names[:index]
    ]
    cells, columns = sum(module.cells for module in case.modules), len(case.columns.cell_v)
    if cells != columns:
        message = f"have {cells} cells together, but columns.cell_v names {columns}"
        problems.append(("modules", message))
    for index, name in enumerate(case.replaced):
        if name not in names:
            known = ", ".join(repr(each) for each in names)
            problems.append((f"replaced.{index}", f"{name!r} is none of the modules {known}"))
        elif name in case.replaced[:index]:
            problems.append((f"replaced.{index}", f"{name!r} is given twice: keep one"))
    try:
        if case.curve is not None:
            curve_named(case.curve)
    except CalculationRefused as refusal:
        problems.append((refusal.path, refusal.message))
    return problems
