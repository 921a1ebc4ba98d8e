"""Open-circuit-voltage curves: from state of charge to rested cell voltage and back.

Here: the curve as a table, its trust, and the functions on it, over single figures or arrays.
Not here: the tables (packs/curves/ocv_curves.csv, read once), and what a difference means (charge).
"""

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from packs.physics.instrument import CalculationRefused
from packs.words import told

Floats = npt.NDArray[np.float64]

CHEMISTRY_OF = MappingProxyType(
    {
        "nmc532_graphite": "nmc",
        "nmc811_graphite_siox": "nmc",
        "nca_graphite": "nca",
        "nco_graphite_kokam": "nca",
        "lfp_graphite": "lfp",
        "lmo70_nmc30_graphite": "lmo_blend",
        "lmo70_nmc30_graphite_low": "lmo_blend",
    }
)
"""What a pack definition calls the chemistry of each curve."""

TRUST_V = MappingProxyType({"nmc": 0.030, "nca": 0.030, "lfp": 0.030, "lmo_blend": 0.060})
"""How far a cell of that type may stand off the table, alike over the curve [V]: shop default."""

HYSTERESIS_V = MappingProxyType({"nmc": 0.0, "nca": 0.0, "lfp": 0.010, "lmo_blend": 0.0})
"""Half the gap between the branches after charge and after discharge [V]: shop default.

Unlike the trust it differs from module to module with what each did last."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """One open-circuit-voltage curve; both columns rise strictly.

    Parameters
    ----------
    name : str
        As in the table.
    chemistry : str
        As a pack definition calls it.
    soc_percent : ndarray
        State of charge, 0 to 100, [%]
    ocv_v : ndarray
        Rested voltage of one cell, [V]
    temperature_c : float
        Of the measurement, [°C]
    source : str
        Where the figures come from.
    trust_v : float
        Half-width of the shift of a cell of that type against the table, [V]
    hysteresis_v : float
        Half the gap between the branches after charge and after discharge, [V]
    """

    name: str
    chemistry: str
    soc_percent: Floats
    ocv_v: Floats
    temperature_c: float
    source: str
    trust_v: float
    hysteresis_v: float

    @property
    def lowest_v(self) -> float:
        """Voltage of the empty cell [V]."""
        return float(self.ocv_v[0])

    @property
    def highest_v(self) -> float:
        """Voltage of the full cell [V]."""
        return float(self.ocv_v[-1])


def curve_named(name: str) -> Curve:
    """Return a curve by its name.

    Parameters
    ----------
    name : str
        As in the table.

    Returns
    -------
    curve : Curve
        The same object at every call.

    Raises
    ------
    CalculationRefused
        When there is none of that name.

    Notes
    -----
    The curves combine two published electrode potentials at 1 % steps; each names its source.
    The table is part of the program and is read once. Source: the column ``source`` of the table.

    Examples
    --------
    >>> curve_named("nmc532_graphite").highest_v
    4.2
    """
    curves = _curves()
    if name not in curves:
        raise CalculationRefused(
            "curve", told('"{name}" is none of {known}', name=name, known=", ".join(curves))
        )
    return curves[name]


@cache
def _curves() -> MappingProxyType[str, Curve]:
    """Read the table."""
    text = files("packs.curves").joinpath("ocv_curves.csv").read_text(encoding="utf-8")
    rows: dict[str, list[dict[str, str]]] = {}
    for row in csv.DictReader(text.splitlines()):
        rows.setdefault(row["curve"], []).append(row)
    return MappingProxyType({name: _curve(name, found) for name, found in rows.items()})


def _curve(name: str, rows: list[dict[str, str]]) -> Curve:
    """Build one curve from its rows; nobody may write into its arrays."""
    soc, volts = (
        np.array([float(row[column]) for row in rows]) for column in ("soc_percent", "ocv_v")
    )
    soc.setflags(write=False)
    volts.setflags(write=False)
    chemistry = CHEMISTRY_OF[name]
    return Curve(
        name=name,
        chemistry=chemistry,
        soc_percent=soc,
        ocv_v=volts,
        temperature_c=float(rows[0]["temperature_c"]),
        source=rows[0]["source"],
        trust_v=TRUST_V[chemistry],
        hysteresis_v=HYSTERESIS_V[chemistry],
    )


def ocv_v(curve: Curve, soc_percent: npt.ArrayLike) -> Floats:
    """Return the rested voltage of a cell at a state of charge.

    Parameters
    ----------
    curve : Curve
        The curve.
    soc_percent : array_like of float
        State of charge, [%]

    Returns
    -------
    volts : ndarray of float
        Of the same shape; not a number below 0 and above 100 %, [V]

    Notes
    -----
    Straight lines between the points of the table; nothing is extrapolated. Source: the table.

    Examples
    --------
    >>> ocv_v(curve_named("nmc532_graphite"), [50.0, 101.0]).round(3).tolist()
    [3.716, nan]
    """
    soc = np.asarray(soc_percent, dtype=float)
    volts = np.interp(soc, curve.soc_percent, curve.ocv_v, left=np.nan, right=np.nan)
    return np.asarray(volts, dtype=float)


def soc_percent(curve: Curve, volts: npt.ArrayLike) -> Floats:
    """Return the state of charge of a cell at its rested voltage.

    Parameters
    ----------
    curve : Curve
        The curve.
    volts : array_like of float
        Rested voltage of one cell, [V]

    Returns
    -------
    soc_percent : ndarray of float
        Of the same shape; not a number below and above the curve's ends, [%]

    Notes
    -----
    The inverse of `ocv_v`; it exists because every table rises strictly (a test holds this). Where
    a curve is flat it is steep in the voltage: propagate the error, never the figure alone.
    Source: the table.

    Examples
    --------
    >>> soc_percent(curve_named("nmc532_graphite"), [3.720, 4.3]).round(1).tolist()
    [50.8, nan]
    """
    voltage = np.asarray(volts, dtype=float)
    soc = np.interp(voltage, curve.ocv_v, curve.soc_percent, left=np.nan, right=np.nan)
    return np.asarray(soc, dtype=float)


def slope_v_per_percent(curve: Curve, soc_percent: npt.ArrayLike) -> Floats:
    """Return how steep a curve is at a state of charge.

    Parameters
    ----------
    curve : Curve
        The curve.
    soc_percent : array_like of float
        State of charge, [%]

    Returns
    -------
    slope : ndarray of float
        Of the same shape, always above zero; not a number outside the curve, [V/%]

    Notes
    -----
    ``(U(s + 1) - U(s - 1))/2``, one-sided at the ends: over two steps of the table, because its
    voltages are rounded to 0.1 mV. Source: the table.

    Examples
    --------
    >>> bool(slope_v_per_percent(curve_named("lfp_graphite"), 50.0) < 0.001)
    True
    """
    soc = np.asarray(soc_percent, dtype=float)
    below = np.clip(soc - 1.0, 0.0, 100.0)
    above = np.clip(soc + 1.0, 0.0, 100.0)
    inside = (soc >= 0.0) & (soc <= 100.0)  # noqa: PLR2004  (percent)
    run = np.where(inside, above - below, np.nan)
    return np.asarray((ocv_v(curve, above) - ocv_v(curve, below)) / run, dtype=float)
