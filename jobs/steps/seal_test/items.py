"""What the seal test asks: vents blanked, source, instruments, samples, caps back.

Samples are entered one by one as they are read; a whole series may be typed in at once instead.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from jobs.core.item import Item, equipment, photo, reading, series, tick
from jobs.core.once import once_a_record
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.sample import Sample, sample

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
SAMPLE = sample(
    f"{SLUG}.sample", "Sample: gauge, gas temperature, barometer", low=-15000, high=20000,
    group=_TEST, help="One a minute or so. The gauge shows the pressure over the outside air.",
)  # fmt: skip
SAMPLES = series(
    f"{SLUG}.samples", "Or the whole series at once", unit="Pa", low=-15000, high=20000,
    group=_TEST, needed=False,
    help="Rows of: seconds, gauge, gas temperature [°C], barometer [Pa].",
)  # fmt: skip
CAPS_PHOTO = photo(
    f"{SLUG}.caps_photo", "Photo of the open vents", needed=False, group=_AFTER,
    help="Recommended: it shows that no cap was left on.",
)  # fmt: skip
TOOLS_FIRST = Reason(
    "seal_tools_first", "Pick pressure gauge and thermometer before the first sample."
)
CAPS_IN = reading(
    f"{SLUG}.caps_in", "Caps taken off the vents and counted in", unit="caps", low=0, high=20,
    group=_AFTER, help="A vent that stays blanked cannot open when it has to.",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleSheet:
    """What the page shows beside the next sample; no time has begun before the first."""

    started_at: datetime | None
    now: datetime
    count: int
    last: Sample | None


def sample_sheet(record: Record) -> SampleSheet:
    """Say when the test began by the server's clock, and what was read last."""
    given = sorted(record.all(SAMPLE), key=lambda one: one.value.t_s)
    began = None
    if given:
        first = given[0]
        began = first.at - timedelta(seconds=first.value.lag_s + first.value.t_s)
    last = given[-1].value if given else None
    return SampleSheet(started_at=began, now=record.now, count=len(given), last=last)


def _sample(record: Record) -> Item[Sample]:
    """Give the item for the next sample; its instruments are picked before it."""

    def barred(_qualifier: str) -> Blocker | None:
        missing = [item for item in (GAUGE, THERMOMETER) if not record.has(item)]
        return TOOLS_FIRST(missing[0].key) if missing else None

    return replace(
        SAMPLE,
        needed=not record.has(SAMPLES),
        barred=barred,
        sheet=lambda _qualifier: sample_sheet(record),
    )


@once_a_record
def items(record: Record) -> tuple[Item[Any], ...]:
    """Give what the step asks now, in order; caps only where the pack has vents to blank."""
    test = None if record.pack is None else record.pack.seal_test
    caps = test is None or test.vent_caps > 0
    settled, one = SETTLED_S, _sample(record)
    if test is not None and test.stabilise_s is not None and test.duration_s is not None:
        settled = replace(SETTLED_S, help=f"{test.stabilise_s.value:g} s or more.")
        low, high = test.test_pressure_low_pa, test.test_pressure_high_pa
        asked = f"Start at {low:g} to {high:g} Pa, for {test.duration_s.value:g} s or more."
        one = replace(one, help=f"{asked} {SAMPLE.help}")
    return (
        *((CAPS_OUT,) if caps else ()),
        SOURCE,
        GAUGE,
        THERMOMETER,
        settled,
        one,
        SAMPLES,
        *((CAPS_IN, CAPS_PHOTO) if caps else ()),
    )
