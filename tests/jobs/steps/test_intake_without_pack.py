"""Intake needs no pack definition; the de-energise check is the first step that does."""

from jobs.core.flow import sign_gate
from jobs.steps.de_energise_check import STEP as DE_ENERGISE_CHECK
from jobs.steps.intake import STEP as INTAKE
from tests.builders import Bench, a_bench, a_person
from tests.jobs.steps.test_intake import ANSWERS


def filled(bench: Bench) -> Bench:
    for item, raw in ANSWERS.items():
        bench.put(item, raw)
    return bench


def test_intake_asks_the_same_and_is_signed_without_a_definition() -> None:
    without, given = filled(Bench()).record(), filled(a_bench()).record()
    assert without.pack is None
    assert INTAKE.items(without) == INTAKE.items(given)
    assert sign_gate((INTAKE,), without, INTAKE, a_person()) == ()


def test_the_second_step_is_blocked_without_a_definition_and_not_for_that_with_one() -> None:
    steps = (INTAKE, DE_ENERGISE_CHECK)
    found = []
    for bench in (Bench(), a_bench()):
        filled(bench).sign("intake")
        blockers = sign_gate(steps, bench.record(), DE_ENERGISE_CHECK, a_person())
        found.append("proof_no_pack" in {blocker.code for blocker in blockers})
    assert found == [True, False]
