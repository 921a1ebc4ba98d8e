"""What charge says to the person at the bench: advice on the move, and warnings.

Here: sentences. Not here: any figure that is not handed in (charge.py).
"""

from dataclasses import dataclass

from packs.physics.charge_case import ChargeCase, ChargeVerdict, Direction
from packs.physics.charge_current import Flow
from packs.physics.charge_interval import Interval
from packs.physics.charge_knee import Knee
from packs.physics.instrument import Message
from packs.physics.ocv import Curve
from packs.physics.unit_suspicion import suspect, suspicions
from packs.words import told

COLDEST_CHARGE_C, WARMEST_C = 0.0, 40.0
"""One maker's window for bringing a module to the others, and no charging below freezing."""
WIDE_PERCENT = 3.0
"""A move known no better than this is done in parts: shop default, no source."""
SLOW_H = 48.0
KNEES = {"lower": "lower knee", "upper": "upper knee"}
WAYS = {"lower": "out of", "upper": "into"}
BACK = {"lower": "into", "upper": "out of"}
MILLIOHM = "milliohms meant? Enter ohm"


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What has been computed, for the sentences."""

    curve: Curve
    verdict: ChargeVerdict
    flat: bool
    direction: Direction
    best_ah: float
    move_ah: Interval
    difference_mv: Interval
    rest_h: float
    shift_v: float
    flow: Flow | None
    knee: Knee | None


def advice(case: ChargeCase, found: Findings) -> tuple[Message, ...]:
    """Say what to do next.

    Parameters
    ----------
    case : ChargeCase
        What was asked.
    found : Findings
        What was computed.

    Returns
    -------
    advice : tuple of Message
        In the order in which it is done.

    Notes
    -----
    Cautions that belong to the act come with it; the maker's service information goes first.
    Source: shop defaults; domain practice of resting before reading.

    Examples
    --------
    >>> from packs.physics.charge import charge
    >>> from packs.physics.charge_case import ChargeMethod
    >>> case = ChargeCase(
    ...     curve="nca_graphite",
    ...     cells=6,
    ...     capacity_ah=60.0,
    ...     spare_cell_v=3.70,
    ...     target_cell_v=3.702,
    ...     method=ChargeMethod(kind="supply", current_a=5.0),
    ... )
    >>> [message.code for message in charge(case).advice]
    ['join']
    """
    if found.flat:
        return (_knee_advice(case, found), *_attended(case, found))
    if found.verdict is ChargeVerdict.UNDECIDED:
        return (_finer_meter(case, found),)
    if found.flow is None:
        text = (
            "The spare may stay as it is. Read both again before joining, at the same temperature "
            "within 3 °C; the balancer takes the rest."
        )
        return (Message("join", text),)
    return (*_move_advice(case, found, found.flow), *_attended(case, found), _read_again(found))


def warnings(case: ChargeCase, found: Findings) -> tuple[Message, ...]:
    """Say what a reader of the result must know.

    Parameters
    ----------
    case : ChargeCase
        What was asked.
    found : Findings
        What was computed.

    Returns
    -------
    warnings : tuple of Message
        What may not be done first, then what limits the figures, then likely slips of unit.

    Notes
    -----
    0 to 40 °C is one maker's window for bringing a module to the others; below freezing lithium
    plates out when charging. Source: shop defaults, maker practice.

    Examples
    --------
    >>> from packs.physics.charge import charge
    >>> from packs.physics.charge_case import ChargeMethod
    >>> case = ChargeCase(
    ...     curve="nca_graphite",
    ...     cells=6,
    ...     capacity_ah=60.0,
    ...     spare_cell_v=3.66,
    ...     target_cell_v=3.70,
    ...     temperature_c=-5.0,
    ...     method=ChargeMethod(kind="supply", current_a=5.0),
    ... )
    >>> [message.code for message in charge(case).warnings]
    ['too_cold_to_charge']
    """
    return (*_forbidding(case, found), *_limiting(found), *_current(case, found), *_units(case))


def _knee_advice(case: ChargeCase, found: Findings) -> Message:
    """Say how to match modules whose voltage does not tell their charge."""
    doubt_mv = found.difference_mv.high - found.difference_mv.low
    start = told(
        "At this voltage the curve is too flat: {doubt_mv:.1f} mV of doubt are "
        "many percent of charge. Do not trust the voltage here.",
        doubt_mv=doubt_mv,
    )
    knee = found.knee
    if knee is None:
        text = told(
            "{start} No part of the curve is steep enough for such readings: use a finer meter.",
            start=start,
        )
        return Message("finer_meter", text)
    text = told(
        "{start} Bring the spare and the modules that stay, each, to the {knee}: "
        "{cell_v:.3f} V a cell after {rest_h:g} h of rest, about "
        "{soc_percent:.0f} % of charge. For the string that is about "
        "{from_knee_ah:.3g} Ah {way} it ({from_knee_ah_low:.3g} to "
        "{from_knee_ah_high:.3g} Ah). Within {accept_mv_per_cell:g} mV a cell of "
        "one another there, they hold the same charge. Then count: move the same "
        "charge {back} each, {from_knee_ah:.3g} Ah to come back to where the "
        "string stood.",
        start=start,
        knee=KNEES[knee.kind],
        cell_v=knee.cell_v,
        rest_h=found.rest_h,
        soc_percent=knee.soc_percent,
        from_knee_ah=knee.from_knee_ah,
        way=WAYS[knee.kind],
        from_knee_ah_low=knee.from_knee_ah_low,
        from_knee_ah_high=knee.from_knee_ah_high,
        accept_mv_per_cell=case.accept_mv_per_cell,
        back=BACK[knee.kind],
    )
    return Message("use_knee", text)


def _finer_meter(case: ChargeCase, found: Findings) -> Message:
    """Say how to decide when the readings leave open whether anything must move."""
    span = found.difference_mv
    text = told(
        "The difference lies between {low:.1f} and {high:.1f} mV a cell, and "
        "{accept_mv_per_cell:g} mV may stay. Read both with the same meter in a "
        "finer range, or take the mean of several readings, to tell which. To "
        "bring them closer in any case, accept less.",
        low=span.low,
        high=span.high,
        accept_mv_per_cell=case.accept_mv_per_cell,
    )
    return Message("finer_meter", text)


def _through(flow: Flow) -> str:
    """Say what a discharge flows through."""
    if flow.resistor_ohm is None:
        return told("with a load of constant {start_a:.3g} A", start_a=flow.start_a)
    return told(
        "through {resistor_ohm:g} ohm ({start_a:.3g} A at the start)",
        resistor_ohm=flow.resistor_ohm,
        start_a=flow.start_a,
    )


def _move_advice(case: ChargeCase, found: Findings, flow: Flow) -> tuple[Message, ...]:
    """Say how the move is made and where it ends."""
    span = found.move_ah
    amount = told("{low:.3g} to {high:.3g} Ah", low=span.low, high=span.high)
    if found.direction is Direction.CHARGE:
        highest_v = case.cells * (found.curve.highest_v + found.shift_v)
        text = told(
            "Charge the spare by {amount} at {start_a:.3g} A, about {hours:.3g} h. Set "
            "the supply to no more than {highest_v:.2f} V, and stop when the terminals "
            "show {stop_terminal_v:.2f} V with the current flowing.",
            amount=amount,
            start_a=flow.start_a,
            hours=flow.hours,
            highest_v=highest_v,
            stop_terminal_v=flow.stop_terminal_v,
        )
    else:
        text = told(
            "Discharge the spare by {amount} {through}, about {hours:.3g} h. Stop when "
            "the terminals show {stop_terminal_v:.2f} V with the current flowing.",
            amount=amount,
            through=_through(flow),
            hours=flow.hours,
            stop_terminal_v=flow.stop_terminal_v,
        )
    parts = (Message("move", text),)
    if span.high - span.low <= 2.0 * WIDE_PERCENT / 100.0 * case.capacity_ah:
        return parts
    first_ah = span.low if span.low > 0.0 else found.best_ah / 2.0
    text = told(
        "How much to move is known only roughly, because cells of this type "
        "differ. Move {first_ah:.3g} Ah first, let both rest, read again, and "
        "compute anew.",
        first_ah=first_ah,
    )
    return (*parts, Message("in_parts", text))


def _attended(case: ChargeCase, found: Findings) -> tuple[Message, ...]:
    """Say what keeps the act from hurting anybody."""
    text = (
        "Stay with it, with a thermal cut-off on the module; stop at once at warmth, smell or "
        "swelling. The vehicle maker's service information goes first."
    )
    if found.direction is Direction.CHARGE or (found.knee and found.knee.kind == "upper"):
        end = told("reaches {highest_v:.2f} V", highest_v=found.curve.highest_v)
    else:
        end = told("falls to {lowest_v:.2f} V", lowest_v=found.curve.lowest_v)
    cut_off = told("Watch every cell: stop as soon as one {end} with the current flowing.", end=end)
    messages = [Message("attended", text), Message("cell_cut_off", cut_off)]
    flow = found.flow
    if flow is not None and flow.resistor_w is not None:
        text = told(
            "The resistor takes {resistor_w:.3g} W and gets very hot: choose one for "
            "at least {rated_w:.3g} W and rated above {rated_v:.0f} V, on a base that "
            "cannot burn, out of reach.",
            resistor_w=flow.resistor_w,
            rated_w=2.0 * flow.resistor_w,
            rated_v=case.cells * case.spare_cell_v,
        )
        messages.append(Message("resistor_hot", text))
    return tuple(messages)


def _read_again(found: Findings) -> Message:
    """Say how long to wait."""
    text = told(
        "Then let it rest for {rest_h:g} h or more, take two readings an hour "
        "apart that agree within 1 mV a cell, and compute anew.",
        rest_h=found.rest_h,
    )
    return Message("rest", text)


def _forbidding(case: ChargeCase, found: Findings) -> tuple[Message, ...]:
    """Warn of what must not be done."""
    charging = found.direction is Direction.CHARGE or found.flat
    if case.temperature_c < COLDEST_CHARGE_C and charging:
        text = "Below 0 °C a module must not be charged: let it warm up first, then read again."
        return (Message("too_cold_to_charge", text),)
    if not COLDEST_CHARGE_C <= case.temperature_c <= WARMEST_C:
        text = told(
            "{temperature_c:g} °C lies outside 0 to 40 °C: bring the modules there first.",
            temperature_c=case.temperature_c,
        )
        return (Message("temperature", text),)
    return ()


def _limiting(found: Findings) -> tuple[Message, ...]:
    """Warn of what limits the figures."""
    messages = []
    curve = found.curve
    if found.shift_v > 0.0:
        text = told(
            "A reading stands {shift_mv:.1f} mV above the curve's full end: taken as "
            "full. Check the reading and the curve, and do not charge further.",
            shift_mv=found.shift_v * 1000.0,
        )
        messages.append(Message("above_full", text))
    if curve.chemistry == "lfp":
        text = (
            "These cells rest higher after a charge than after a discharge: compare modules that "
            "came to rest from the same side."
        )
        messages.append(Message("hysteresis", text))
    if curve.chemistry == "lmo_blend":
        text = (
            "This curve was put together from its parts: trust the difference, check by counting."
        )
        messages.append(Message("constructed_curve", text))
    return tuple(messages)


def _current(case: ChargeCase, found: Findings) -> tuple[Message, ...]:
    """Warn of the current and the resistor."""
    flow = found.flow
    if flow is None:
        return ()
    messages = []
    limit_w = case.method.max_w
    taken_w = flow.resistor_w or 0.0
    if limit_w is not None and taken_w > limit_w * (1.0 + 1e-9):
        text = told(
            "{resistor_ohm:g} ohm would take {taken_w:.3g} W at the start, more than "
            "the {limit_w:g} W it may take: use a larger one.",
            resistor_ohm=flow.resistor_ohm,
            taken_w=taken_w,
            limit_w=limit_w,
        )
        messages.append(Message("resistor_overload", text))
    if flow.start_a > case.capacity_ah:
        text = told(
            "{start_a:.3g} A would empty or fill the module within the hour "
            "({cell_a:.3g} A in each cell): stay within the maker's limit.",
            start_a=flow.start_a,
            cell_a=flow.start_a / case.parallel,
        )
        messages.append(Message("high_current", text))
    if flow.held_at_end:
        text = told(
            "With this current the terminals would pass the end of the curve: stop at "
            "{stop_terminal_v:.2f} V and finish with less current.",
            stop_terminal_v=flow.stop_terminal_v,
        )
        messages.append(Message("current_too_high_to_finish", text))
    if flow.hours > SLOW_H:
        text = told(
            "This takes {hours:.3g} h, which nobody can attend: use more current.", hours=flow.hours
        )
        messages.append(Message("slow", text))
    return tuple(messages)


def _units(case: ChargeCase) -> tuple[Message, ...]:
    """Warn of figures that are likely a thousand times off."""
    method = case.method
    # Resistance times capacity of a cell is some 0.1 ohm Ah whatever its size.
    most_ohm = 2.0 * case.cells / case.capacity_ah
    found = (
        ("capacity_ah", case.capacity_ah, 1000.0, "milliampere hours meant? Enter Ah"),
        ("module_resistance_ohm", case.module_resistance_ohm, most_ohm, MILLIOHM),
        ("voltage_u_v", case.voltage_u_v, 0.05, "millivolts meant? Enter V"),
        ("accept_mv_per_cell", case.accept_mv_per_cell, 200.0, "microvolts meant? Enter mV"),
        ("bleed_a", case.bleed_a, 5.0, "milliamperes meant? Enter A"),
        ("method.current_a", method.current_a, 500.0, "milliamperes meant? Enter A"),
        ("method.ohm", method.ohm, 1000.0, MILLIOHM),
        ("method.max_w", method.max_w, 1e4, "milliwatts meant? Enter W"),
    )
    return suspicions(
        *(
            suspect(path, value, 0.0, most, told("were {words}", words=words))
            for path, value, most, words in found
        ),
        suspect("method.max_w", method.max_w, 1.0, float("inf"), "were kilowatts meant? Enter W"),
    )
