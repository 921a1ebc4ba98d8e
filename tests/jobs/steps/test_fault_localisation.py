"""The fault localisation: what opens the pack, which module leaks, and how the step ends."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.flow import gate
from jobs.core.seal import sealed
from jobs.steps.fault_localisation import STEP
from jobs.steps.fault_localisation.assessment import assess, leaking_modules, outcome
from jobs.steps.fault_localisation.items import (
    LEAKING,
    LID_OFF,
    LINK_OPENED,
    MODULE_OHM,
    MODULE_TESTER,
    OTHER_OHM,
    OTHER_WHAT,
    OUTCOME,
    QUOTATION,
    READING,
    SEEN,
    SEEN_FROM,
)
from jobs.steps.isolation_readings.items import PACK
from packs.physics.simulate import SimulatedLeak
from tests.builders import Bench, a_bench, an_equipment
from tests.jobs.steps.isolation_scene import (
    HEATER,
    LEAK_IN_M3,
    TESTER,
    an_isolation_bench,
    simulated,
    struck,
)
from tests.jobs.steps.localisation_scene import (
    a_localised_bench,
    an_open_bench,
    put_links,
    put_open_reading,
    put_quotation,
)

STEPS = (STEP,)


def codes(bench: Bench) -> set[str]:
    record = bench.record()
    return {one.code for one in STEP.blockers(record, STEP.assess(record))}


def keys(bench: Bench) -> set[str]:
    return {item.key for item in STEP.items(bench.record())}


def a_vehicle_bench() -> Bench:
    bench = an_isolation_bench(part=HEATER, outcome="vehicle_part")
    put_quotation(bench)
    return bench


def test_a_module_named_and_confirmed_by_its_links_can_be_signed() -> None:
    bench = a_localised_bench()
    assert gate(STEPS, bench.record(), STEP) == ()
    assert outcome(bench.record()) == "module"
    assert leaking_modules(bench.record()) == ("M3",)
    assert assess(bench.record()).confirmed_by == ("links",)


def test_the_closed_pack_already_names_the_module_but_does_not_confirm_it() -> None:
    a = assess(an_isolation_bench(LEAK_IN_M3).record())
    assert a.search.named == ("M3",)
    assert a.confirmed_by == ()


def test_an_empty_record_asks_for_the_quotation_and_does_not_raise() -> None:
    record = a_bench().record()
    assert STEP.section(record, STEP.assess(record)).verdict == "none"
    assert {item.key for item in STEP.items(record)} >= {QUOTATION.key}
    assert (outcome(record), leaking_modules(record), STEP.ends(record)) == ("", (), "")


def test_nothing_of_the_pack_is_asked_before_the_customer_has_approved() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    assert LID_OFF.key not in keys(bench)
    put_quotation(bench)
    assert LID_OFF.key in keys(bench)


def test_a_module_that_is_named_but_not_confirmed_blocks() -> None:
    bench = an_open_bench()
    bench.put(OUTCOME, "module")
    bench.put(LEAKING, module="M3")
    assert codes(bench) == {"localise_not_confirmed"}


def test_no_module_named_blocks() -> None:
    bench = an_open_bench(SimulatedLeak(module="M3", position_cells=2.5, leak_ohm=4.0e7))
    bench.put(OUTCOME, "module")
    assert "localise_not_named" in codes(bench)


def test_ticking_another_module_than_the_readings_name_blocks() -> None:
    bench = a_localised_bench()
    struck(bench, LEAKING)
    bench.put(LEAKING, module="M4")
    assert codes(bench) == {"localise_contradicts"}


def put_modules(bench: Bench, leaking: str, low: str = "200k") -> None:
    assert bench.pack is not None
    bench.put(MODULE_TESTER, TESTER)
    for module in bench.pack.modules:
        bench.put(MODULE_OHM, low if module.name == leaking else ">550M", module=module.name)


def test_the_modules_own_insulation_confirms_the_named_one() -> None:
    bench = an_open_bench()
    bench.put(OUTCOME, "module")
    bench.put(LEAKING, module="M3")
    put_modules(bench, "M3")
    assert codes(bench) == set()
    assert assess(bench.record()).confirmed_by == ("insulation",)


def test_a_module_less_than_ten_times_below_the_median_confirms_nothing() -> None:
    bench = an_open_bench()
    bench.put(OUTCOME, "module")
    put_modules(bench, "M3", low="60M")
    assert "localise_not_confirmed" in codes(bench)


def test_three_modules_read_are_too_few_to_compare() -> None:
    bench = an_open_bench()
    for name, ohm in (("M3", "200k"), ("M4", ">550M"), ("M5", ">550M")):
        bench.put(MODULE_OHM, ohm, module=name)
    assert assess(bench.record()).peers.ratio is None


def test_insulation_that_points_at_another_module_blocks() -> None:
    bench = a_localised_bench()
    put_modules(bench, "M5")
    assert codes(bench) == {"localise_peers_contradict"}


def test_a_tester_out_of_date_blocks() -> None:
    bench = a_localised_bench()
    put_modules(bench, "M3")
    struck(bench, MODULE_TESTER)
    bench.put(MODULE_TESTER, {**TESTER, "due_on": "2026-01-31"})
    assert codes(bench) == {"localise_tester_date"}


def test_readings_that_no_leak_explains_name_the_suspect() -> None:
    bench = a_localised_bench()
    struck(bench, READING, module="M3", pole="pos")
    bench.put(READING, "-21", module="M3", pole="pos", open="M2+M3", shunt="none")
    record = bench.record()
    found = {one.code: one for one in STEP.blockers(record, STEP.assess(record))}
    assert "localise_inconsistent" in found
    assert found["localise_inconsistent"].params["suspect"]


def test_an_unknown_pole_is_sent_back() -> None:
    bench = a_localised_bench()
    bench.put(READING, "3", module="M99", pole="pos", open="none", shunt="none")
    assert codes(bench) == {"localise_reading_unknown"}


def test_a_reading_over_a_link_not_recorded_as_opened_is_sent_back() -> None:
    bench = a_localised_bench()
    struck(bench, LINK_OPENED, after="M2")
    assert "localise_link_unticked" in codes(bench)


def test_readings_that_cannot_be_computed_say_why() -> None:
    bench = a_localised_bench()
    struck(bench, PACK.meter)
    bench.put(PACK.meter, an_equipment("meter", input_ohm=0, rated_v=1000))
    assert "localise_refused" in codes(bench)


def test_nothing_cannot_be_seen_together_with_something() -> None:
    bench = a_localised_bench()
    bench.put(SEEN, what="coolant")
    assert codes(bench) == {"localise_nothing_and_more"}
    struck(bench, SEEN, what="nothing")
    assert codes(bench) == set()
    assert SEEN_FROM.key in keys(bench)


def test_a_part_that_is_no_module_needs_its_own_reading_and_sound_modules() -> None:
    bench = an_open_bench()
    bench.put(OUTCOME, "pack_not_module")
    assert {OTHER_WHAT.key, OTHER_OHM.key} <= keys(bench)
    bench.put(OTHER_OHM, ">550M")
    assert codes(bench) == {"localise_other_modules", "localise_other_not_confirmed"}
    put_modules(bench, "none of them")
    struck(bench, OTHER_OHM)
    bench.put(OTHER_OHM, "30k")
    assert codes(bench) == set()
    assert outcome(bench.record()) == "pack_not_module"
    assert leaking_modules(bench.record()) == ()


def test_the_map_shows_where_the_leak_is_likely() -> None:
    record = a_localised_bench().record()
    shown = STEP.section(record, STEP.assess(record))
    assert shown.verdict == "fail"
    pack, string = shown.pictures
    assert "M3" in pack.description
    assert "leak" in string.description


def test_a_second_leak_in_the_section_is_not_taken_for_one_between_them() -> None:
    ghosts = (
        SimulatedLeak(module="M1", position_cells=3.0, leak_ohm=8.0e4),
        SimulatedLeak(module="M5", position_cells=3.0, leak_ohm=8.0e4),
    )
    bench = an_open_bench(*ghosts)
    put_links(bench, *ghosts)
    assert bench.pack is not None
    put_open_reading(bench, simulated(bench.pack, *ghosts), "M1", "neg", "M2", "M3")
    bench.put(OUTCOME, "module")
    bench.put(LEAKING, module="M3")
    assert codes(bench) & {"localise_contradicts", "localise_not_named"}


WHOLE = [*a_localised_bench().entries, *a_vehicle_bench().entries[-5:]]


@settings(max_examples=15, deadline=None)
@given(st.sets(st.integers(0, len(WHOLE) - 1)))
def test_any_part_of_the_entries_is_judged_without_an_error(left_out: set[int]) -> None:
    bench = replace(a_bench(), entries=[e for n, e in enumerate(WHOLE) if n not in left_out])
    record = bench.record()
    a = STEP.assess(record)
    sealed(a)
    STEP.items(record)
    STEP.blockers(record, a)
    STEP.holds(record, a)
    STEP.section(record, a)
    assert a.outcome in {"", "module"}


def test_a_leak_that_is_not_named_yet_comes_with_next_readings() -> None:
    leak = SimulatedLeak(module="M3", position_cells=2.5, leak_ohm=4.0e7)
    record = an_open_bench(leak).record()
    shown = STEP.section(record, STEP.assess(record))
    assert shown.proposals
    assert all(one.item == READING.key and one.why.text for one in shown.proposals)
    assert shown.headline is not None
    assert shown.verdict == "undecided"


def test_a_closed_pack_that_can_tell_no_more_says_that_the_lid_has_to_come_off() -> None:
    bench = an_isolation_bench(LEAK_IN_M3)
    record = bench.record()
    (said,) = STEP.section(record, STEP.assess(record)).advice
    assert "lid" in said.text


def test_readings_that_contradict_are_said_to() -> None:
    bench = a_localised_bench()
    struck(bench, READING, module="M3", pole="pos")
    bench.put(READING, "-21", module="M3", pole="pos", open="M2+M3", shunt="none")
    record = bench.record()
    shown = STEP.section(record, STEP.assess(record))
    # The map would claim what the readings do not say; the string shows what was read.
    assert (shown.verdict, [one.title for one in shown.pictures]) == ("undecided", ["String line"])


def test_a_sign_turned_round_is_pointed_at_on_its_own_card() -> None:
    bench = a_localised_bench()
    given = bench.record().given(READING, "module=M3;open=M2+M3;pole=pos;shunt=none")
    assert given is not None
    struck(bench, READING, module="M3", pole="pos")
    bench.put(READING, f"{-given.value}", module="M3", pole="pos", open="M2+M3", shunt="none")
    record = bench.record()
    (suspect,) = STEP.section(record, STEP.assess(record)).suspects
    assert (suspect.item, "module=M3" in suspect.qualifier) == (READING.key, True)
    assert "the sign is turned round" in str(suspect.text.params["guess"])


def test_the_report_names_the_ratio_and_the_part() -> None:
    bench = an_open_bench()
    put_modules(bench, "M3")
    bench.put(OUTCOME, "pack_not_module")
    bench.put(OTHER_WHAT, "busbar")
    record = bench.record()
    shown = STEP.section(record, STEP.assess(record))
    assert any("M3" in str(fact.label) for fact in shown.facts)
    assert "A busbar inside the pack leaks." in str(shown.plain)


def test_without_a_pack_definition_the_step_still_answers() -> None:
    bench = replace(a_bench(), pack=None, entries=WHOLE)
    record = bench.record()
    a = STEP.assess(record)
    assert (a.search.result, leaking_modules(record)) == (None, ())
    assert STEP.holds(record, a)


def test_a_reading_says_which_of_the_opened_links_were_open() -> None:
    asked = {item.key: item for item in STEP.items(a_localised_bench().record())}
    assert asked[READING.key].options["open"] == ("M2+M3", "M2", "M3", "none")
    closed = {item.key: item for item in STEP.items(an_open_bench().record())}
    assert closed[READING.key].options["open"] == ("none",)
