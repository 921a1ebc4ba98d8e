"""The shop's limits in force, each a figure with its kind and source.

Here: `Limits` with the defaults a workshop starts with. What a pack definition states
(wait, isolation limits, torque) is not here; it comes from the definition and is stricter.
"""

from collections.abc import Mapping

from pydantic import BaseModel, ConfigDict

from packs.definition import Figure

__all__ = ["Limits", "limits_from"]


def _shop(value: float) -> Figure:
    return Figure(value=value, kind="shop_default", source="")


class Limits(BaseModel):
    """Limits that hold for every job of the workshop unless its pack definition is stricter.

    Attributes
    ----------
    floor_v : Figure
        End value below which a settling reading counts as floating [V].
    isolation_ohm_per_v : Figure
        Isolation resistance to pass in steps 3, 6 and 8 [ohm/V].
    isolation_warning_ohm : Figure
        Total below which a passed isolation still warns [ohm].
    estimates_differ_percent : Figure
        Two estimates of one resistance further apart than this are contradictory [%].
    proof_instrument_gap_min : Figure
        Minutes allowed between the two proofs on the known source [min].
    suspect_ratio : Figure
        A suspect module's insulation is at least this many times below the median [1].
    cell_difference_mv : Figure
        Rested cell difference between spare and string that may be joined [mV].
    charge_rest_h : Figure
        Rest before cell voltages count [h].
    charge_warm_c : Figure
        No spot of a module gets warmer while its charge is moved [degC].
    match_capacity_percent : Figure
        A spare below the weakest module that stays by no more than this [%].
    match_resistance_percent : Figure
        A spare off the median resistance of the modules that stay by no more than this [%].
    match_tested_days : Figure
        A spare's last test is no older [d].
    joint_ratio_percent : Figure
        A joint further above the median of its siblings is an outlier [%].
    spread_rest_mv, spread_top_mv, spread_load_mv : Figure
        Cell spread after the repair: rested, at top of charge, under load [mV].
    temperature_spread_c : Figure
        Spread of the module temperatures on the road [degC].
    bonding_ohm : Figure
        Bonding of the enclosure [ohm].
    bonding_current_a : Figure
        Least current of the bonding measurement [A].
    live_work_h : Figure
        Hours for which a passed hold before live work counts [h].
    watch_above_ambient_c, watch_spread_c : Figure
        Removed module, watched: a point above the air around, points apart from each other [K].
    watch_rise_c : Figure
        Removed module, watched: a point gets warmer by less than this in 15 min [K].
    watch_hot_c, watch_evacuate_c : Figure
        Removed module, watched: every point stays under this; at the second people leave [degC].
    """

    model_config = ConfigDict(frozen=True)

    floor_v: Figure = _shop(2.0)
    isolation_ohm_per_v: Figure = Figure(
        value=500.0, kind="regulation", source="UN R100, 5.1.3: AC, or DC joined to AC"
    )
    isolation_warning_ohm: Figure = _shop(1.0e6)
    estimates_differ_percent: Figure = _shop(20.0)
    proof_instrument_gap_min: Figure = _shop(10.0)
    suspect_ratio: Figure = _shop(10.0)
    cell_difference_mv: Figure = _shop(20.0)
    charge_rest_h: Figure = _shop(3.0)
    charge_warm_c: Figure = _shop(40.0)
    match_capacity_percent: Figure = _shop(5.0)
    match_resistance_percent: Figure = _shop(20.0)
    match_tested_days: Figure = _shop(180.0)
    joint_ratio_percent: Figure = _shop(20.0)
    spread_rest_mv: Figure = _shop(20.0)
    spread_top_mv: Figure = _shop(30.0)
    spread_load_mv: Figure = _shop(100.0)
    temperature_spread_c: Figure = _shop(5.0)
    bonding_ohm: Figure = Figure(
        value=0.1, kind="regulation", source="UN R100: potential equalisation, 0.1 ohm at 0.2 A"
    )
    bonding_current_a: Figure = _shop(0.2)
    live_work_h: Figure = _shop(12.0)
    watch_above_ambient_c: Figure = _shop(10.0)
    watch_spread_c: Figure = _shop(5.0)
    watch_rise_c: Figure = _shop(1.0)
    watch_hot_c: Figure = _shop(60.0)
    watch_evacuate_c: Figure = _shop(80.0)


def limits_from(rows: Mapping[str, Figure]) -> Limits:
    """Give the limits in force from the workshop's own rows; unknown names are ignored.

    Examples
    --------
    >>> limits_from({"floor_v": Figure(value=1.0, kind="shop_default", source="")}).floor_v.value
    1.0
    """
    return Limits(**{name: row for name, row in rows.items() if name in Limits.model_fields})
