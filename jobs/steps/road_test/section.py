"""What the road test says on the screen and in the report: released, what to watch, when back."""

from jobs.core.insulation import side_facts
from jobs.core.log_section import (
    log_advice,
    log_facts,
    log_headline,
    log_not_covered,
    log_pictures,
    log_plain,
    log_tables,
    log_warnings,
)
from jobs.core.picture import before_after
from jobs.core.record import Record
from jobs.core.section import Fact, Quantity, Said, Section, Table, VerdictWord, Words
from jobs.core.torque import torque_fact, torque_table
from jobs.core.vehicle_side_check import vehicle_tables
from jobs.steps.isolation_readings.assessment import assess as assess_isolation
from jobs.steps.reassembly.assessment import assess as assess_reassembly
from jobs.steps.road_test.assessment import Monitor, RoadTest, Spread, logged
from jobs.steps.road_test.gate import blockers
from jobs.steps.road_test.items import (
    BONDING_METER,
    CHARGED,
    CODES,
    CODES_STORED,
    CODES_TEXT,
    DRIVE_KM,
    DRIVE_MIN,
    REVISIT,
    REVISIT_ON,
    SLUG,
    SPREADS,
    VEHICLE,
    logs,
)
from packs.picture import Picture

BENCH_SHARE = 0.8
"""Share of the bench reading below which the hot value is worth a warning [1]. Shop practice."""
_WORDS: dict[str, VerdictWord] = {"pass": "pass", "fail": "fail", "undecided": "undecided"}


def _monitor(label: str, shown: Monitor | None, a: RoadTest) -> tuple[Fact, ...]:
    if shown is None:
        return ()
    return (
        Fact(
            label=label,
            value=Quantity(shown.shown.value, "ohm", comparator=shown.shown.comparator),
            verdict=_WORDS.get(shown.verdict, "none"),
            limit=Quantity(a.limit_ohm, "ohm"),
            limit_kind=a.limit.kind,
            limit_source=a.limit.source,
        ),
    )


def _spread(spread: Spread) -> Fact:
    return Fact(
        label=spread.label,
        value=Quantity(spread.value, spread.unit),
        verdict="pass" if spread.within else "fail",
        limit=Quantity(spread.limit.value, spread.unit),
        limit_kind=spread.limit.kind,
        limit_source=spread.limit.source,
    )


def _bonding(record: Record, a: RoadTest) -> tuple[Fact, ...]:
    if not a.bonding:
        return ()
    point, ohm = max(a.bonding, key=lambda one: one[1])
    meter = record.get(BONDING_METER)
    return (
        Fact(
            label=Said("Bonding of the enclosure, highest at: {point}", {"point": point}),
            value=Quantity(ohm, "ohm"),
            verdict="pass" if ohm <= a.bonding_limit.value else "fail",
            limit=Quantity(a.bonding_limit.value, "ohm"),
            limit_kind=a.bonding_limit.kind,
            limit_source=a.bonding_limit.source,
            instrument="" if meter is None else meter.label,
        ),
    )


def _facts(record: Record, a: RoadTest) -> tuple[Fact, ...]:
    tester = record.get(VEHICLE.tester)
    label = "" if tester is None else tester.label
    drives: tuple[tuple[str, float | None, str], ...] = (
        ("Distance driven", record.get(DRIVE_KM), "km"),
        ("Time driven", record.get(DRIVE_MIN), "min"),
    )
    stored = record.get(CODES_STORED)
    driven = [Fact(label=n, value=Quantity(v, u)) for n, v, u in drives if v is not None]
    side = () if a.vehicle is None else side_facts("vehicle, repaired", a.vehicle, a.limit, label)
    return (
        *side,
        *_bonding(record, a),
        *((torque_fact(a.mounts),) if a.mounts is not None else ()),
        *_monitor("Isolation shown by the vehicle after the drive", a.hot, a),
        *_monitor("Isolation shown by the vehicle 24 h later", a.after_24h, a),
        *(() if stored is None else (Fact(label="Codes stored before clearing", value=stored),)),
        *driven,
        *(_spread(spread) for spread in a.spreads),
        *(log_facts(logs(record), found) if (found := logged(a)) else ()),
    )


def _tables(record: Record, a: RoadTest) -> tuple[Table, ...]:
    rows: tuple[tuple[Words, ...], ...] = tuple((p, Quantity(v, "ohm")) for p, v in a.bonding)
    bonding = Table(title="Bonding", headings=("Point", "Resistance"), rows=rows)
    return (
        *vehicle_tables(record, VEHICLE),
        *((torque_table(a.mounts),) if a.mounts is not None else ()),
        *((bonding,) if rows else ()),
        *(log_tables(logs(record), found) if (found := logged(a)) else ()),
    )


def _pictures(record: Record, a: RoadTest) -> tuple[Picture, ...]:
    """Draw isolation before and after, for the side that was repaired, and the cells' lanes."""
    limit_mv, found = record.limits.spread_rest_mv.value, logged(a)
    drawn = log_pictures(logs(record), found, limit_mv) if found else ()
    first = assess_isolation(record)
    if record.lid_was_off:
        before, after = first.pack.ohm_per_v, assess_reassembly(record).before_lid.ohm_per_v
    elif a.vehicle is not None:
        before, after = first.vehicle.ohm_per_v, a.vehicle.ohm_per_v
    else:
        return drawn
    both = () if after is None else (before_after(before, after, a.limit.value),)
    return (*both, *drawn)


def _come_back(record: Record) -> list[Said]:
    words, day = record.get(REVISIT), record.get(REVISIT_ON)
    said = []
    if day is not None:
        said.append(Said("Please come back for a check on {day_on}.", {"day_on": day.isoformat()}))
    if words is not None:
        said.append(Said("Please come back for a check: {when}.", {"when": words.rstrip(".")}))
    return said


def _plain(record: Record, a: RoadTest, *, done: bool) -> tuple[Said, ...]:
    said, km = list[Said](), record.get(DRIVE_KM)
    if done:
        said.append(Said("It passed every check we made and was released."))
    if km is not None:
        said.append(Said("We drove it for {km} km.", {"km": f"{km:g}"}))
    if record.has(CHARGED):
        said.append(Said("We charged it to full."))
    if record.get(CODES) == "none":
        said.append(Said("No trouble code came back after two drives."))
    if found := logged(a):
        said += log_plain(logs(record), found)
    if a.after_24h is not None and a.after_24h.verdict == "pass" and not a.again_early:
        said.append(Said("A day after the drive its insulation was read again and kept the limit."))
    said += _come_back(record)
    if done:
        said.append(
            Said("If the isolation warning lights up again: stop, switch off, and call us.")
        )
    return tuple(said)


def _headline(record: Record, a: RoadTest, *, done: bool) -> tuple[VerdictWord, Said | None]:
    failing = [shown for shown in (a.hot, a.after_24h) if shown and shown.verdict == "fail"]
    if failing:
        return "fail", Said("Isolation is low after the drive.")
    if record.get(CODES) == "returned":
        return "fail", Said("Trouble codes returned.")
    said = log_headline(found) if (found := logged(a)) else None
    if said is not None and not done:
        return said
    return ("pass", Said("Passed every check we made.")) if done else ("none", None)


def _bench_ohm(record: Record, a: RoadTest) -> float | None:
    """Give the bench reading after the repair [ohm]; None where it was only a bound."""
    side = a.vehicle if not record.lid_was_off else assess_reassembly(record).before_lid
    return None if side is None or side.is_lower_bound else side.total_ohm


def _warnings(record: Record, a: RoadTest) -> tuple[Said, ...]:
    """Warn of what stands out in the logs, and of a monitor that shows little."""
    found = logged(a)
    if found is None:
        return _hot_warning(record, a)
    typed = {n: v for n, item in SPREADS.items() if (v := record.get(item)) is not None}
    return (*log_warnings(logs(record), found, typed), *_hot_warning(record, a))


def _hot_warning(record: Record, a: RoadTest) -> tuple[Said, ...]:
    """Warn where the monitor shows clearly less than was read on the bench: shop practice."""
    bench_ohm, hot = _bench_ohm(record, a), a.hot
    if hot is None or bench_ohm is None or hot.shown.comparator != "=":
        return ()
    if hot.verdict != "pass" or hot.shown.value >= BENCH_SHARE * bench_ohm:
        return ()
    words = (
        "Hot, the vehicle shows {hot_kohm:.0f} kΩ; the bench read {bench_kohm:.0f} kΩ after the "
        "repair. Below {share_percent:.0f} % of it (shop practice, no source): see whether the "
        "monitor's range ends there; otherwise look for moisture before release."
    )
    figures = {"hot_kohm": hot.shown.value / 1e3, "bench_kohm": bench_ohm / 1e3}
    return (Said(words, {**figures, "share_percent": BENCH_SHARE * 100.0}),)


def _back(record: Record, a: RoadTest) -> tuple[str, ...]:
    """Name the steps to which a finding leads back: isolation, spread of cells, codes."""
    low = any(shown is not None and shown.verdict == "fail" for shown in (a.hot, a.after_24h))
    apart = any(not spread.within and spread.unit == "mV" for spread in a.spreads)
    apart = apart or ((found := logged(a)) is not None and found.apart)
    side = a.vehicle is not None and a.vehicle.verdict == "fail"
    pack = record.lid_was_off and a.pack_verdict == "fail"
    by_code = record.get(CODES) == "returned"
    return (
        *(("fault_localisation",) if low or side or by_code else ()),
        *(("module_swap",) if apart else ()),
        *(("reassembly",) if pack else ()),
    )


def section(record: Record, a: RoadTest) -> Section:
    """Say how it drove, what to watch, and when to come back."""
    done = a.hot is not None and record.has(CODES) and not blockers(record, a)
    released = record.signatures.get(SLUG) is not None
    verdict, headline = _headline(record, a, done=done)
    codes = record.get(CODES_TEXT)
    advice = [] if codes is None else [Said("Codes: {codes}", {"codes": codes})]
    if a.wet and a.after_24h is None and a.again_from:
        words = "Read isolation again from {from_at}; a wet leak comes back."
        advice.append(Said(words, {"from_at": a.again_from}))
    found, life = logged(a), "The remaining life and the capacity of the battery were not tested."
    advice += log_advice(logs(record), found) if found else ()
    return Section(
        verdict=verdict,
        headline=headline,
        plain=_plain(record, a, done=done and released),
        advice=tuple(advice),
        warnings=_warnings(record, a),
        back=_back(record, a),
        facts=_facts(record, a),
        tables=_tables(record, a),
        pictures=_pictures(record, a),
        not_covered=(
            *(log_not_covered(logs(record)) if found else (Said(life),)),
            Said("The vehicle's own monitor was read as it shows; its error is not known."),
        )
        if done
        else (),
    )
