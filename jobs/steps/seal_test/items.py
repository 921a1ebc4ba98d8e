"""What the seal test asks: vents blanked, source, instruments, readings, caps back."""

from dataclasses import replace
from typing import Any

from jobs.core.item import Item, equipment, reading, series, tick
from jobs.core.record import Record

SLUG = "seal_test"
_BEFORE, _TEST, _AFTER = "Before filling", "Test", "Afterwards"

CAPS_OUT = reading(
    f"{SLUG}.caps_out", "Caps counted out and fitted to the vents", unit="caps", low=0, high=20,
    group=_BEFORE,
)  # fmt: skip
SOURCE = tick(
    f"{SLUG}.source", "Source limited by regulator and relief valve, dry gas", group=_BEFORE,
    help="Nobody leans over the lid. Fill slowly; never above the test pressure.",
)  # fmt: skip
GAUGE = equipment(f"{SLUG}.gauge", "Pressure gauge", ("pressure_gauge",), group=_BEFORE)
THERMOMETER = equipment(f"{SLUG}.thermometer", "Thermometer", ("thermometer",), group=_BEFORE)
SETTLED_S = reading(
    f"{SLUG}.settled_s", "Seconds left to settle after filling", unit="s", low=0, high=1e5,
    group=_TEST,
)  # fmt: skip
SAMPLES = series(
    f"{SLUG}.samples", "Pressure over the outside air, with gas temperature and barometer",
    unit="Pa", low=-15000, high=20000, group=_TEST,
    help="Rows of: seconds, gauge [Pa], gas temperature [°C], barometer [Pa].",
)  # fmt: skip
CAPS_IN = reading(
    f"{SLUG}.caps_in", "Caps taken off the vents and counted in", unit="caps", low=0, high=20,
    group=_AFTER, help="A vent that stays blanked cannot open when it has to.",
)  # fmt: skip


def items(record: Record) -> tuple[Item[Any], ...]:
    """Give what the step asks now, in order; caps only where the pack has vents to blank."""
    test = None if record.pack is None else record.pack.seal_test
    caps = test is None or test.vent_caps > 0
    settled, samples = SETTLED_S, SAMPLES
    if test is not None and test.stabilise_s is not None and test.duration_s is not None:
        settled = replace(SETTLED_S, help=f"{test.stabilise_s.value:g} s or more.")
        low, high = test.test_pressure_low_pa, test.test_pressure_high_pa
        asked = f"Start at {low:g} to {high:g} Pa, for {test.duration_s.value:g} s or more."
        samples = replace(SAMPLES, help=f"{SAMPLES.help} {asked}")
    return (
        *((CAPS_OUT,) if caps else ()),
        SOURCE,
        GAUGE,
        THERMOMETER,
        settled,
        samples,
        *((CAPS_IN,) if caps else ()),
    )
