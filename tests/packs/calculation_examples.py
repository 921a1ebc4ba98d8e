"""One input of each kind for every calculation, complete and sound.

All of it is made up, the short log of `cycle` too: rest, charge, rest, discharge, rest.
"""

from pathlib import Path
from typing import Any

DATA = Path(__file__).parents[1] / "data"

METER = {"input_ohm": 1e7}
EXAMPLES: dict[str, dict[str, Any]] = {
    "decay": {
        "samples": [{"t_s": 0, "v": 90}, {"t_s": 10, "v": 62}, {"t_s": 20, "v": 46.7}],
        "meter": METER,
    },
    "absence": {
        "threshold_v": 5,
        "instrument": {"accuracy_percent": 0.5, "accuracy_counts": 2, "resolution_v": 0.1},
        "proof_before": {"expected_v": 400, "reading_v": 399},
        "readings": [
            {"between": "pos-neg", "volts": 0.1},
            {"between": "pos-chassis", "volts": -0.2},
            {"between": "neg-chassis", "below_v": 3},
        ],
        "proof_after": {"expected_v": 400, "reading_v": 401},
    },
    "isolation": {
        "method": "voltmeter",
        "pos_to_chassis_v": 106.11,
        "neg_to_chassis_v": 261.68,
        "shunt_ohm": 185000,
        "shunt_across": "neg",
        "shunted_v": 197.55,
        "meter": METER,
        "working_voltage_v": 370,
    },
    "tester": {
        "method": "tester",
        "test_voltage_v": 500,
        "pos_ohm": {"above_ohm": 5.5e8},
        "neg_ohm": 2.4e6,
        "at_30s_ohm": 2.0e6,
        "at_60s_ohm": 2.4e6,
        "working_voltage_v": 400,
    },
    "leak": {
        "volume_l": 60,
        "barometer_pa": 101325,
        "samples": [
            {"t_s": 0, "gauge_pa": 3000, "temp_c": 20},
            {"t_s": 300, "gauge_pa": 2860, "temp_c": 20.2},
        ],
        "gauge": {"resolution_pa": 1, "repeatability_pa": 1},
        "limit": {"ml_per_min": 10},
        "test_pressure_pa": [2500, 3500],
    },
    "joint": {"drop_mv": 3, "current_a": 200, "meter": METER, "limit_micro_ohm": 20},
    "vin": {"vin": "1J9RP1A36A1644345"},
    "localise": {
        "modules": [{"name": "M1", "cells": 6}, {"name": "M2", "cells": 6}],
        "cell_v": 3.6,
        "meter": METER,
        "readings": [{"module": "M1", "pole": "pos", "volts": 3.0}],
    },
    "match": {
        "wanted": {
            "chemistry": "NMC",
            "part": "P-100",
            "cells": 6,
            "capacity_ah": [50.1, 49.5],
            "resistance_mohm": [6.1, 6.3],
            "cell_v": 3.7,
            "temperature_c": 22,
        },
        "limits": {"capacity_percent": 5, "resistance_percent": 20, "tested_within_days": 180},
        "spares": [
            {
                "serial": f"S-{number}",
                "chemistry": "NMC",
                "part": "P-100",
                "cells": 6,
                "capacity_ah": 48.0 + number,
                "resistance_mohm": 6.0,
                "cell_v": 3.68,
                "days_since_test": 20,
                "quarantined": False,
            }
            for number in range(3)
        ],
    },
    "charge": {
        "curve": "nmc532_graphite",
        "cells": 6,
        "parallel": 2,
        "capacity_ah": 50,
        "spare_cell_v": 3.60,
        "target_cell_v": 3.72,
        "module_resistance_ohm": 0.01,
        "method": {"kind": "supply", "current_a": 5},
    },
    "discharge": {
        "curve": "nmc532_graphite",
        "cells": 6,
        "capacity_ah": 50,
        "spare_cell_v": 3.80,
        "target_cell_v": 3.72,
        "temperature_c": 25,
        "voltage_u_v": 0.002,
        "method": {"kind": "resistor", "ohm": 2.2, "max_w": 300},
        "bleed_a": 0.05,
        "accept_mv_per_cell": 10,
    },
    "cycle": {
        "file": str(DATA / "cycle_short.csv"),
        "columns": {
            "time_s": "time_s",
            "current_a": "current_a",
            "cell_v": ["c1_v", "c2_v", "c3_v", "c4_v"],
            "temperature_c": ["t1_c"],
        },
        "current_sign": "charge_positive",
        "modules": [{"name": "M1", "cells": 2}, {"name": "M2", "cells": 2}],
        "replaced": ["M2"],
        "rated_ah": 50,
        "curve": "nmc532_graphite",
        "limits": {
            "spread_rest_mv": 20,
            "spread_top_mv": 30,
            "spread_load_mv": 100,
            "temperature_spread_c": 5,
        },
    },
}
CALCULATION_OF = {"tester": "isolation", "discharge": "charge"}
"""Examples that are a second kind of input of a calculation."""


def calculation_of(example: str) -> str:
    """Return the calculation that an example is for."""
    return CALCULATION_OF.get(example, example)
