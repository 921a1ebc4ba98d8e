"""Which reasons say that a job waits for equipment, people, a release, or a better result."""

from collections.abc import Mapping
from typing import Final

__all__ = ["DANGER", "EQUIPMENT", "PEOPLE", "VERDICTS"]

DANGER: Final[Mapping[str, str]] = {
    "intake_evacuate": "intake.triage",
    "intake_not_released": "intake.triage",
    "intake_triage_again": "intake.triage",
    "swap_danger": "",
    "proof_live": "",
}
"""Signs of danger that nobody has released, with the item that told of them."""

EQUIPMENT: Final = frozenset(
    {
        "equipment_withdrawn",
        "proof_gear_lapsed",
        "proof_gear_rating",
        "live_gloves_lapsed",
        "live_gloves_rating",
        "live_shield_lapsed",
        "isolation_instrument_date",
        "isolation_instrument_rating",
        "isolation_test_voltage",
        "isolation_shunt_power",
        "localise_table_date",
        "localise_table_rating",
        "localise_tester_date",
        "swap_tester",
        "torque_tool_lapsed",
        "torque_tool_range",
        "link_meter",
        "link_joint_meter",
        "reassembly_coolant_gauge",
        "seal_instrument",
        "road_meter",
    }
)
"""A piece that was picked may not be used, or not for this."""

PEOPLE: Final = frozenset(
    {
        "second_same",
        "second_unqualified",
        "second_stale",
        "live_second_old",
        "live_second_same",
        "live_second_unqualified",
        "proof_second_early",
        "road_second",
        "road_second_same",
        "intake_release_unqualified",
    }
)
"""Whoever signed as second person cannot stand for it."""

VERDICTS: Final = frozenset(
    {
        "isolation_repeat_low",
        "isolation_contradictory",
        "isolation_estimates_differ",
        "isolation_outcome",
        "localise_contradicts",
        "localise_inconsistent",
        "localise_peers_contradict",
        "localise_charge",
        "localise_lid_not_serviceable",
        "swap_spare_insulation",
        "swap_cell_spread",
        "swap_cell_range",
        "swap_wrong_spare",
        "swap_not_matched",
        "swap_spare_unfit",
        "swap_charge_undecided",
        "swap_charge_refused",
        "swap_temperature",
        "torque_off",
        "link_polarity",
        "link_part_v",
        "link_gap_v",
        "link_joint_limit",
        "link_joint_ratio",
        "reassembly_coolant_leaks",
        "reassembly_parts",
        "reassembly_isolation_fails",
        "reassembly_isolation_undecided",
        "reassembly_closed_fails",
        "reassembly_closed_undecided",
        "seal_fails",
        "seal_undecided",
        "seal_refused",
        "road_pack_isolation",
        "road_vehicle_isolation",
        "road_bonding",
        "road_codes",
        "road_log_undecided",
        "road_log_temperature",
        "road_log_module",
        "road_log_module_open",
        "road_log_doubt",
        "road_log_sensor",
        "road_log_other_string",
        "road_isolation_hot",
        "road_isolation_24h",
        "road_spread",
        "road_temperature_spread",
    }
)
"""A result that was entered fails, is undecided, or contradicts another one."""
