"""Intake: what is asked, what blocks, and what the answers come to."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.entering import enter_gate
from jobs.core.entry import Kind
from jobs.core.flow import gate, sign_gate
from jobs.core.item import Item, Shape
from jobs.core.reason import Blocker
from jobs.core.seal import sealed
from jobs.core.section import Quantity, Said
from jobs.steps.intake import STEP
from jobs.steps.intake import gate as gates
from jobs.steps.intake.assessment import codes, parse_codes
from jobs.steps.intake.items import (
    ACUTE,
    ARRIVED,
    AUTHORITY,
    CHARGE_SHOWN,
    COMPLAINT,
    CONSENT,
    CRASH,
    EARLIER_REPAIR,
    FLOOD,
    IDENTITY,
    KEYS,
    NO_DANGER,
    ODOMETER,
    OWN_ISOLATION,
    PACK_ALONE,
    PACK_SERIAL,
    PRICE_CAP,
    RECALL,
    STANDS,
    TRIAGE,
    TROUBLE_CODES,
    VEHICLE,
    VIN,
    WARNING_LAMPS,
    WARRANTY,
    WATCH,
    WATCH_PLACE,
    WATCH_RELEASE,
)
from tests.builders import LORNE, MUNK, THORNE, Bench, a_bench, a_person

# Invented numbers; the first is a European one, where position 9 need not be a check digit.
EUROPEAN_VIN = "WXYZZZ12Z00123456"
ANSWERS: dict[Item[Any], Any] = {
    ARRIVED: VEHICLE,
    TRIAGE: NO_DANGER,
    STANDS: "Bay 2",
    KEYS: "Key cabinet, hook 7",
    IDENTITY: True,
    VIN: EUROPEAN_VIN,
    CONSENT: True,
    COMPLAINT: "Warns after rain",
    WARNING_LAMPS: "Red battery",
    TROUBLE_CODES: "P0AA6",
    OWN_ISOLATION: "<50k",
    ODOMETER: "81200",
    CHARGE_SHOWN: "28",
    CRASH: "no",
    FLOOD: "no",
    EARLIER_REPAIR: "yes",
    RECALL: "no",
    WARRANTY: "no",
    PRICE_CAP: "250",
    AUTHORITY: "signed",
}


def a_filled(**changed: Any) -> Bench:
    """Give a bench with every answer; changes by the last part of the item's key."""
    bench = a_bench()
    for item, raw in ANSWERS.items():
        value = changed.get(item.key.partition(".")[2], raw)
        if value is not None:
            bench.put(item, value)
    return bench


def strike(bench: Bench, item: Item[Any]) -> None:
    key = bench.record().live[item.key][-1].key
    bench.add(Kind.STRIKE, {"key": key, "reason": "mistaken"})


def blockers(bench: Bench) -> tuple[Blocker, ...]:
    return gate((STEP,), bench.record(), STEP)


def reasons(bench: Bench) -> list[str]:
    return [blocker.code for blocker in blockers(bench)]


def test_a_complete_intake_can_be_signed_by_a_technician() -> None:
    assert sign_gate((STEP,), a_filled().record(), STEP, a_person()) == ()


def test_the_front_desk_may_not_sign_it() -> None:
    found = sign_gate((STEP,), a_filled().record(), STEP, a_person(LORNE))
    assert [blocker.code for blocker in found] == ["signer_role"]


@pytest.mark.parametrize(
    "item", [i for i in ANSWERS if i not in {OWN_ISOLATION, CHARGE_SHOWN}], ids=lambda i: i.key
)
def test_each_needed_answer_is_missed(item: Item[Any]) -> None:
    bench = a_filled(**{item.key.partition(".")[2]: None})
    assert ("missing", item.key) in [(b.code, b.item) for b in blockers(bench)]


def test_the_front_desk_enters_its_answers_but_not_the_triage() -> None:
    record, lorne = a_bench().record(), a_person(LORNE)
    allowed = enter_gate((STEP,), record, key=COMPLAINT.key, qualifier="", by=lorne)
    refused = enter_gate((STEP,), record, key=TRIAGE.key, qualifier="", by=lorne)
    assert allowed == ()
    assert [blocker.code for blocker in refused] == ["role_may_not"]


def test_a_pack_alone_is_not_asked_for_a_vehicle() -> None:
    bench = a_filled(arrived=PACK_ALONE, vin=None, identity=None, keys=None, odometer_km=None)
    asked = STEP.items(bench.record())
    assert VIN not in asked
    assert KEYS not in asked
    assert reasons(bench) == ["missing"]
    bench.put(PACK_SERIAL, "OB-84-000317")
    assert reasons(bench) == []


def test_a_vehicle_is_not_asked_for_the_serial_of_its_pack() -> None:
    assert PACK_SERIAL not in STEP.items(a_filled().record())


def test_smoke_blocks_and_says_to_evacuate() -> None:
    bench = a_filled(triage=ACUTE)
    found = {blocker.code: blocker for blocker in blockers(bench)}
    assert "fire brigade" in found["intake_evacuate"].text
    assert found["intake_evacuate"].item == WATCH_RELEASE.key


def test_striking_smoke_does_not_stand_in_for_a_release() -> None:
    bench = a_filled(triage=ACUTE)
    strike(bench, TRIAGE)
    bench.put(TRIAGE, NO_DANGER)
    assert "intake_evacuate" in reasons(bench)


def test_calling_smoke_something_milder_does_not_stand_in_for_a_release() -> None:
    bench = a_filled(triage=ACUTE)
    strike(bench, TRIAGE)
    bench.put(TRIAGE, WATCH)
    assert "intake_evacuate" in reasons(bench)


def test_released_smoke_is_looked_at_again() -> None:
    bench = a_filled(triage=ACUTE)
    bench.put(WATCH_RELEASE, by=THORNE)
    assert reasons(bench) == ["intake_triage_again"]
    strike(bench, TRIAGE)
    bench.put(TRIAGE, NO_DANGER)
    assert reasons(bench) == []


def test_swelling_waits_outdoors_until_a_qualified_person_releases_it() -> None:
    bench = a_filled(triage=WATCH)
    assert "intake_not_released" in reasons(bench)
    bench.put(WATCH_PLACE, "Yard, north corner; seen to by the desk")
    bench.put(WATCH_RELEASE, by=MUNK)
    assert reasons(bench) == []


def test_a_release_by_somebody_unqualified_does_not_count() -> None:
    bench = a_filled(triage=WATCH)
    bench.put(WATCH_PLACE, "Yard")
    bench.put(WATCH_RELEASE, by=LORNE)
    assert reasons(bench) == ["intake_not_released", "intake_release_unqualified"]


def test_a_release_before_the_last_sign_of_danger_does_not_count() -> None:
    bench = a_filled(triage=WATCH)
    bench.put(WATCH_PLACE, "Yard")
    bench.put(WATCH_RELEASE, by=MUNK)
    strike(bench, TRIAGE)
    bench.put(TRIAGE, WATCH)
    assert "intake_not_released" in reasons(bench)


def test_no_release_is_asked_where_no_danger_was_seen() -> None:
    asked = STEP.items(a_filled().record())
    assert WATCH_RELEASE not in asked
    assert WATCH_PLACE not in asked


@pytest.mark.parametrize("typed", ["WXYZZZ12Z0012345O", "WXYZZZ12Z001234", "WXYZZZ12Z001234567"])
def test_a_vin_that_cannot_be_right_blocks(typed: str) -> None:
    assert reasons(a_filled(vin=typed)) == ["intake_vin_wrong"]


@pytest.mark.parametrize("typed", ["AB12-004521", "1J9RP1A37A1644345"])
def test_a_frame_number_or_a_differing_check_digit_only_warns(typed: str) -> None:
    bench = a_filled(vin=typed)
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert reasons(bench) == []
    assert any(said.text.startswith("VIN") for said in section.warnings)


def test_authority_signed_before_the_cap_was_changed_does_not_cover_it() -> None:
    bench = a_filled()
    strike(bench, PRICE_CAP)
    bench.put(PRICE_CAP, "900")
    assert reasons(bench) == ["intake_authority_old"]
    strike(bench, AUTHORITY)
    bench.put(AUTHORITY, "signed again")
    assert reasons(bench) == []


@pytest.mark.parametrize(
    ("written", "found"),
    [
        ("none", ()),
        ("p0aa6-00 and P0C76, P0AA6 again", ("P0AA6", "P0C76")),
        ("POC76", ("P0C76",)),
        ("U3003 B1234;C00FF", ("U3003", "B1234", "C00FF")),
        ("COFFE, XP0AA6, P0AA67, P4000", ()),
    ],
)
def test_trouble_codes_are_found_in_what_was_written(written: str, found: tuple[str, ...]) -> None:
    assert parse_codes(written) == found


def test_the_codes_of_a_record_are_those_written() -> None:
    assert codes(a_filled(trouble_codes="P0AA6 stored, P0C76").record()) == ("P0AA6", "P0C76")
    assert codes(a_bench().record()) == ()


@given(st.text(max_size=60))
def test_any_text_gives_codes_of_five_characters(written: str) -> None:
    assert all(len(code) == 5 and code[1:].isalnum() for code in parse_codes(written))


@given(st.sets(st.sampled_from(sorted(ANSWERS, key=lambda item: item.key))))
def test_any_part_of_the_answers_can_be_assessed_and_shown(chosen: set[Item[Any]]) -> None:
    bench = Bench()
    for item in sorted(chosen, key=lambda item: item.key):
        bench.put(item, ANSWERS[item])
    record = bench.record()
    result = STEP.assess(record)
    sealed(result)
    STEP.section(record, result)
    assert all(b.item.startswith("intake.") for b in STEP.blockers(record, result))


def test_the_section_says_what_was_told_and_shown() -> None:
    record = a_filled(triage=WATCH, crash="yes").record()
    section = STEP.section(record, STEP.assess(record))
    assert section.verdict == "fail"
    complaint = record.get(COMPLAINT)
    assert complaint is not None
    assert complaint in section.plain
    assert Said("It has been in a crash.") in section.plain
    values = {fact.label: fact.value for fact in section.facts}
    assert values["Trouble codes"] == "P0AA6"
    own = values["Isolation resistance that the vehicle shows"]
    assert own == Quantity(50000.0, "ohm", comparator="<")


def test_a_released_danger_is_told_to_the_customer() -> None:
    bench = a_filled(triage=WATCH)
    bench.put(WATCH_RELEASE, by=MUNK)
    section = STEP.section(bench.record(), STEP.assess(bench.record()))
    assert any("under watch" in said.text for said in section.plain if isinstance(said, Said))


def test_a_crash_in_the_history_without_a_sign_of_danger_is_pointed_out() -> None:
    record = a_filled(crash="yes").record()
    section = STEP.section(record, STEP.assess(record))
    assert any("Crash or water" in said.text for said in section.warnings)


def test_the_section_of_an_empty_record_says_nothing() -> None:
    record = Bench().record()
    section = STEP.section(record, STEP.assess(record))
    assert (section.verdict, section.plain, section.facts) == ("none", (), ())


def test_there_are_no_hold_points_and_nothing_can_be_countersigned() -> None:
    record = a_filled().record()
    assert STEP.holds(record, STEP.assess(record)) == ()
    assert not any(reason.countersign for reason in gates.REASONS)


def test_every_key_begins_with_the_step_and_is_given_once() -> None:
    bench = a_filled(triage=WATCH)
    keys = [item.key for item in STEP.items(bench.record())]
    assert len(keys) == len(set(keys))
    assert all(key.startswith("intake.") for key in keys)
    assert all(item.label for item in STEP.items(bench.record()))


def test_what_names_the_customer_is_kept_where_it_can_be_erased() -> None:
    shapes = {item.key: item.shape for item in STEP.items(a_bench().record())}
    for key in ("intake.complaint", "intake.insurer"):
        assert shapes[key] is Shape.PERSONAL
    assert shapes["intake.authority"] is Shape.DRAWN


def said_of(written: str) -> tuple[dict[str, str], list[str]]:
    record = a_filled(trouble_codes=written).record()
    shown = STEP.section(record, STEP.assess(record))
    facts = {
        str(fact.label): fact.value.text for fact in shown.facts if isinstance(fact.value, Said)
    }
    return facts, [advice.text for advice in shown.advice]


def test_codes_whose_meaning_is_agreed_on_say_it_and_others_say_nothing() -> None:
    facts, advice = said_of("P0AA6, P1AE6, P0A0A")
    assert facts["P0AA6"] == "Isolation fault of the high-voltage system"
    assert "P1AE6" not in facts
    assert advice == []


def test_codes_of_the_sensor_alone_say_that_the_isolation_may_be_sound() -> None:
    assert any("may be sound" in line for line in said_of("P0AA9")[1])
    assert not any("may be sound" in line for line in said_of("P0AA9, P0AA6")[1])


def test_a_slow_discharge_and_a_welded_contactor_are_said_at_once() -> None:
    advice = said_of("P0C76 P0AA1")[1]
    assert any("waiting time alone" in line for line in advice)
    assert any("may be welded" in line for line in advice)
