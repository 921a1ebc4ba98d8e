"""What intake says on the screen and in the report."""

from jobs.core.item import PersonalRef
from jobs.core.record import Record
from jobs.core.section import Fact, Quantity, Said, Section, VerdictWord
from jobs.steps.intake.assessment import ISOLATION_FAULT, MEANINGS, SENSOR_CODES, Intake
from jobs.steps.intake.items import (
    ACUTE,
    ARRIVED,
    CHARGE_SHOWN,
    COMPLAINT,
    CRASH,
    EARLIER_REPAIR,
    FLOOD,
    NO_DANGER,
    ODOMETER,
    OWN_ISOLATION,
    PACK_SERIAL,
    PRICE_CAP,
    RECALL,
    STANDS,
    TROUBLE_CODES,
    VIN,
    WARNING_LAMPS,
    WARRANTY,
    WATCH_PLACE,
)

_YES = {
    CRASH: Said("It has been in a crash."),
    FLOOD: Said("It has stood in water."),
    EARLIER_REPAIR: Said("Its high-voltage system has been repaired before."),
    RECALL: Said("A recall is open: ask the maker's workshop before any repair."),
    WARRANTY: Said("A warranty covers it: a repair here may end it."),
}


def _plain(record: Record, intake: Intake) -> tuple[Said | PersonalRef, ...]:
    said: list[Said | PersonalRef] = []
    complaint, cap = record.get(COMPLAINT), record.get(PRICE_CAP)
    if record.has(ARRIVED):
        pack = Said("A battery pack came to us without its vehicle.")
        said.append(pack if intake.pack_alone else Said("The vehicle came to us complete."))
    if complaint is not None:
        said += [Said("You told us:"), complaint]
    said += [sentence for item, sentence in _YES.items() if record.get(item) == "yes"]
    if intake.released:
        said.append(
            Said("It showed signs of danger and stood outdoors under watch until it was released.")
        )
    if cap is not None:
        said.append(Said("You agreed to a diagnosis for at most {cap_money}.", {"cap_money": cap}))
    return tuple(said)


def _figures(record: Record) -> list[Fact]:
    facts = []
    odometer, charge = record.get(ODOMETER), record.get(CHARGE_SHOWN)
    own = record.get(OWN_ISOLATION)
    if odometer is not None:
        facts.append(Fact(label="Odometer", value=Quantity(odometer, "km")))
    if charge is not None:
        facts.append(Fact(label="Charge shown", value=Quantity(charge, "percent")))
    if own is not None:
        value = Quantity(own.value, "ohm", comparator=own.comparator)
        facts.append(Fact(label="Isolation resistance that the vehicle shows", value=value))
    return facts


def _codes(intake: Intake) -> tuple[Fact, ...]:
    """Say what the codes mean that several makers' documents agree on."""
    return tuple(
        Fact(label=code, value=Said(MEANINGS[code])) for code in intake.codes if code in MEANINGS
    )


def _advice(intake: Intake) -> tuple[Said, ...]:
    said = []
    if SENSOR_CODES & set(intake.codes) and ISOLATION_FAULT not in intake.codes:
        said.append(
            Said(
                "The codes speak of the circuit that watches the isolation: the isolation itself "
                "may be sound. The readings decide."
            )
        )
    if "P0C76" in intake.codes:
        said.append(
            Said("The discharge takes too long: the waiting time alone proves nothing, measure it.")
        )
    if "P0AA1" in intake.codes:
        said.append(
            Said("A contactor may be welded: treat the pack connector as live until proven dead.")
        )
    return tuple(said)


def _facts(record: Record, intake: Intake) -> tuple[Fact, ...]:
    lines = (
        ("VIN", VIN),
        ("Serial number of the pack", PACK_SERIAL),
        ("Warning lamps and messages", WARNING_LAMPS),
        ("Trouble codes", TROUBLE_CODES),
        ("Where it stands", STANDS),
        ("Outdoor place and watch", WATCH_PLACE),
    )
    given = ((label, record.get(item)) for label, item in lines)
    words = [Fact(label=label, value=value) for label, value in given if value is not None]
    return (*words, *_codes(intake), *_figures(record))


def _verdict(intake: Intake) -> tuple[VerdictWord, Said | None]:
    if intake.danger and not intake.released:
        acute = Said("Get everybody out. Call the fire brigade.")
        return "fail", acute if intake.danger == ACUTE else Said("Outdoors, under watch")
    if intake.triage:
        return "none", Said("No danger standing")
    return "none", None


def _warnings(record: Record, intake: Intake) -> tuple[Said, ...]:
    messages = (*intake.vin_faults, *intake.vin_warnings)
    vin = tuple(Said("VIN: {why}", {"why": message.text}) for message in messages)
    harmed = "yes" in {record.get(CRASH), record.get(FLOOD)}
    if harmed and intake.triage == NO_DANGER and not intake.danger:
        return (*vin, Said("Crash or water in its history: was the pack looked at afterwards?"))
    return vin


def section(record: Record, intake: Intake) -> Section:
    """Say what was told, shown and agreed on arrival."""
    verdict, headline = _verdict(intake)
    return Section(
        verdict=verdict,
        headline=headline,
        plain=_plain(record, intake),
        warnings=_warnings(record, intake),
        facts=_facts(record, intake),
        advice=_advice(intake),
    )
