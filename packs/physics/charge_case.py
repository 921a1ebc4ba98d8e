"""What charge is asked and what it answers, field by field as the interface names them.

Here: the case, the method and the result. Not here: how the answer is found (charge.py).
"""

from dataclasses import dataclass
from enum import StrEnum

from packs.physics.instrument import Message


class ChargeVerdict(StrEnum):
    """Whether the spare may be joined as it is.

    Examples
    --------
    >>> ChargeVerdict.MOVE == "move"
    True
    """

    READY = "ready"
    MOVE = "move"
    UNDECIDED = "undecided"


class Direction(StrEnum):
    """Which way the charge of the spare has to go.

    Examples
    --------
    >>> Direction.NONE == "none"
    True
    """

    CHARGE = "charge"
    DISCHARGE = "discharge"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeMethod:
    """A resistor, or a supply that is a load of constant current when it discharges.

    Parameters
    ----------
    kind : str
        ``resistor`` or ``supply``.
    ohm : float or None
        The resistor at hand; None to have one chosen, [ohm]
    max_w : float or None
        What the resistor may take, [W]
    current_a : float or None
        Of the supply, [A]
    """

    kind: str
    ohm: float | None = None
    max_w: float | None = None
    current_a: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeCase:
    """A spare, the voltage it is to reach, and what moves its charge.

    Parameters
    ----------
    curve : str
        Name of an open-circuit-voltage curve.
    cells : int
        Cells of the spare in series, [-]
    capacity_ah : float
        Of the spare's terminals, parallel cells included, [Ah]
    spare_cell_v, target_cell_v : float
        Rested voltage of a cell of the spare, and of the modules that stay, [V]
    method : ChargeMethod
        What moves the charge.
    parallel : int
        Cells side by side; only tells the current of one cell, [-]
    temperature_c : float
        Of the modules, [°C]
    module_resistance_ohm : float
        Between the spare's terminals, [ohm]
    voltage_u_v : float
        Rectangular half-width of each reading, [V]
    bleed_a : float
        What the balancer takes from a cell, [A]
    accept_mv_per_cell : float
        The difference that may stay, [mV]
    """

    curve: str
    cells: int
    capacity_ah: float
    spare_cell_v: float
    target_cell_v: float
    method: ChargeMethod
    parallel: int = 1
    temperature_c: float = 25.0
    module_resistance_ohm: float = 0.0
    voltage_u_v: float = 0.002
    bleed_a: float = 0.05
    accept_mv_per_cell: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeResult:
    """What has to be moved, how, and what will be left; see `packs.physics.charge.charge`.

    ``move_ah`` and ``ah_from_knee`` are magnitudes. What only makes sense while charge is moved is
    None otherwise; the knee's figures are None unless the curve is too flat.
    """

    direction: Direction
    move_ah: float
    move_ah_low: float
    move_ah_high: float
    spare_soc_percent: float
    spare_soc_percent_low: float
    spare_soc_percent_high: float
    target_soc_percent: float
    target_soc_percent_low: float
    target_soc_percent_high: float
    difference_mv: float
    difference_mv_low: float
    difference_mv_high: float
    hours: float | None
    start_a: float | None
    stop_a: float | None
    cell_a: float | None
    resistor_ohm: float | None
    resistor_w: float | None
    stop_terminal_v: float | None
    rest_h: float
    left_ah: float
    bleed_hours: float
    knee: str | None
    knee_cell_v: float | None
    knee_soc_percent: float | None
    ah_from_knee: float | None
    ah_from_knee_low: float | None
    ah_from_knee_high: float | None
    verdict: ChargeVerdict
    advice: tuple[Message, ...]
    warnings: tuple[Message, ...]
