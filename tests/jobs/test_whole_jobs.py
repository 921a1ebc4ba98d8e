"""Whole jobs through the door, from booking to the end, on readings of the simulated circuit."""

import io
import uuid

import pytest
from pypdf import PdfReader

from jobs.core.entry import Kind
from jobs.core.section import Quantity
from jobs.practice.player import play
from jobs.practice.scene import TECHNICIAN, Draft, Scene, Stuck
from jobs.queries.records import job_info
from jobs.queries.verify import verify_job
from jobs.report.blocks import Grid
from jobs.report.document import report_of
from jobs.report.pdf import render_pdf
from jobs.report.technical import technical_record_of
from jobs.steps import STEPS
from jobs.steps.fault_localisation.assessment import leaking_modules, outcome
from jobs.steps.isolation_readings.assessment import assess as assess_isolation
from jobs.steps.reassembly.assessment import assess as assess_reassembly
from jobs.views.reasons import sentence_of
from packs.queries import latest_revision
from tests.play import a_job, a_job_at

pytestmark = pytest.mark.django_db


LONGEST_REPORT = 5
"""More pages than this no customer reads."""


def text_of(pdf: bytes) -> str:
    """Give the words of a document, joined where a line was broken."""
    pages = PdfReader(io.BytesIO(pdf)).pages
    return "".join(page.extract_text() for page in pages).replace("\n", "")


def outcomes(scene: Scene) -> list[str]:
    """Give how each step was signed."""
    return [signature.outcome for signature in scene.record().signatures.values()]


def assert_sound(scene: Scene, how: str) -> None:
    """See that the job closed as it should, verifies, and gives a report."""
    record, info = scene.record(), job_info(scene.job)
    assert record.closed is not None
    assert record.closed.how == how
    assert not record.pack_open
    assert verify_job(uuid.UUID(scene.job)) == ()
    assert info is not None
    assert info.closed_at == record.closed.at
    pages = PdfReader(io.BytesIO(render_pdf(report_of(info, record)))).pages
    assert 2 <= len(pages) <= LONGEST_REPORT
    # The signatures and the record's head stand together, and no sentence alone on a page.
    last = pages[-1].extract_text()
    assert "Who signed" in last
    assert "technical record" in last
    technical = technical_record_of(info, record, sentence_of)
    entries = [block for block in technical.blocks if isinstance(block, Grid)][-1]
    assert [row[0] for row in entries.rows] == [str(entry.seq) for entry in record.entries]
    assert info.head in text_of(render_pdf(technical))


def test_a_van_with_a_soaked_module_runs_to_the_hand_over() -> None:
    with a_job_at("closed") as scene:
        record = scene.record()
        assert leaking_modules(record) == ("M9",)
        assert assess_isolation(record).outcome == "pack"
        assert assess_reassembly(record).closed_verdict == "pass"
        assert outcomes(scene) == ["done"] * 8
        assert_sound(scene, "handed_over")


def test_the_report_gives_what_was_measured_on_the_spare() -> None:
    with a_job_at("reassembly") as scene:
        step, record = STEPS[4], scene.record()
        rows = step.section(record, step.assess(record)).tables[0].rows
        assert rows[0][4:6] == (Quantity(118.6, "Ah"), Quantity(4.1, "mohm"))


def test_a_minibus_with_another_chemistry_runs_to_the_hand_over() -> None:
    with a_job("minibus-module") as scene:
        play(scene)
        assert leaking_modules(scene.record()) == ("M3",)
        assert_sound(scene, "handed_over")


def test_a_leak_in_the_cabin_heater_leaves_the_pack_closed() -> None:
    with a_job("hatchback-heater") as scene:
        play(scene)
        record = scene.record()
        assert assess_isolation(record).vehicle.leaking == ("Cabin heater",)
        assert outcome(record) == "vehicle_part"
        assert not record.lid_was_off
        assert outcomes(scene) == ["done"] * 4 + ["not_needed"] * 3 + ["done"]
        assert_sound(scene, "handed_over")


def test_a_leak_in_the_pack_but_in_no_module_is_mended_without_a_swap() -> None:
    with a_job("van-harness") as scene:
        play(scene)
        assert outcome(scene.record()) == "pack_not_module"
        assert leaking_modules(scene.record()) == ()
        assert outcomes(scene) == ["done"] * 4 + ["not_needed"] + ["done"] * 3
        assert_sound(scene, "handed_over")


def test_a_declined_quotation_ends_the_job_with_the_pack_closed() -> None:
    with a_job("hatchback-declined") as scene:
        play(scene)
        assert outcomes(scene) == ["done"] * 4
        assert not scene.record().lid_was_off
        assert_sound(scene, "declined")


def test_a_fault_that_does_not_show_ends_as_not_found_never_as_safe() -> None:
    with a_job("minibus-not-found") as scene:
        play(scene)
        found = assess_isolation(scene.record())
        assert found.outcome == "not_found"
        assert found.vehicle.verdict == "pass"
        assert outcomes(scene) == ["done"] * 3
        assert_sound(scene, "not_found")


def test_nothing_is_refused_to_whoever_does_all_in_order() -> None:
    with a_job_at("closed") as scene:
        kinds = [entry.kind for entry in scene.record().entries]
        assert Kind.REFUSAL not in kinds
        assert scene.refused == 0


def test_the_lid_stays_off_when_the_isolation_it_was_to_go_on_with_is_struck() -> None:
    with a_job_at("reassembly") as scene:
        play(scene, until="reassembly.lid_on")
        assert ("reassembly", "lid_on") in scene.record().holds
        live = scene.record().live
        for each in (*live["reassembly.pack_reading"], *live.get("reassembly.pack_settling", ())):
            strike = {"key": each.key, "reason": "misread"}
            scene.do(Draft(kind=Kind.STRIKE, by=TECHNICIAN, value=strike))
        lid = Draft(kind=Kind.VALUE, by=TECHNICIAN, item="reassembly.lid_on", value=True)
        with pytest.raises(Stuck, match="hold_not_passed"):
            scene.do(lid)
        again = {"step": "reassembly", "hold": "lid_on"}
        with pytest.raises(Stuck, match="isolation"):
            scene.do(Draft(kind=Kind.HOLD, by=TECHNICIAN, value=again))


def test_a_closed_job_takes_nothing_not_even_a_refusal() -> None:
    with a_job_at("closed") as scene:
        before = len(scene.record().entries)
        for kind, value in ((Kind.PROOF, {"round": "1"}), (Kind.SIGN, {"step": "road_test"})):
            reply = scene.send(Draft(kind=kind, by=TECHNICIAN, value=value))
            assert "job_closed" in reply.codes
        assert len(scene.record().entries) == before
        assert verify_job(uuid.UUID(scene.job)) == ()


def test_another_kind_of_pack_is_refused_once_the_label_was_compared() -> None:
    with a_job_at("isolation_readings") as scene:
        other = latest_revision("minibus")
        value = {"revision": str(other.id), "reason": "lenient"}
        reply = scene.send(Draft(kind=Kind.REVISION, by=TECHNICIAN, value=value))
        assert reply.verdict == "refused"
        assert reply.codes == {"revision_other_pack"}
