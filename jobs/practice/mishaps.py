"""What goes wrong on purpose in the demonstration, and how it is put right again.

Each mishap is tried once, just before what it is named after (an item, ``hold STEP HOLD``,
``sign STEP``, ``proof``), and has to be answered as expected: where the door takes what it should
refuse, the demonstration stops. Written for the van with the coolant leak.
"""

from collections.abc import Callable, Mapping
from typing import Final

from jobs.core.entry import Kind
from jobs.core.item import qualifier_of
from jobs.practice.pen import signature_of
from jobs.practice.scene import DESK, MANAGER, TECHNICIAN, Draft, Scene, Stuck
from jobs.practice.tablet import Reply
from jobs.steps.de_energise_check.items import DEAD, NEW_ROUND, readings_asked, round_now
from jobs.steps.fault_localisation.items import LID_HOLD
from jobs.steps.intake.items import ODOMETER
from jobs.steps.isolation_readings.items import HOLD as READINGS_HOLD
from jobs.steps.isolation_readings.items import LIVE
from jobs.steps.module_swap.items import LINKS, SPARE_CELL_V
from jobs.steps.reassembly.items import LID_HOLD as LID_ON_HOLD
from jobs.steps.road_test.items import CONNECTORS, DISCONNECT
from jobs.steps.road_test.items import HOLD as DISCONNECT_HOLD

__all__ = ["MISHAPS", "expect"]

LAPSED_GLOVES, LAPSED_PERSON = "G3", "Pell"


def expect(scene: Scene, draft: Draft, verdict: str, *codes: str) -> Reply:
    """Send what must not be taken, and see that it is answered as it should be.

    Parameters
    ----------
    scene : Scene
        The job.
    draft : Draft
        What is tried.
    verdict : str
        What has to be answered.
    *codes : str
        Reasons that have to be among those given.

    Returns
    -------
    Reply
        The answer.

    Raises
    ------
    Stuck
        Where it is answered otherwise.
    """
    reply = scene.send(draft)
    if reply.verdict != verdict or not set(codes) <= reply.codes:
        wanted = f"{verdict} {', '.join(codes)}".strip()
        raise Stuck(
            f"{draft.kind} {draft.item} {draft.value!r} has to be answered: {wanted}", reply
        )
    return reply


def _hold(step: str, hold: str) -> Draft:
    return Draft(kind=Kind.HOLD, by=TECHNICIAN, value={"step": step, "hold": hold})


def _sign(step: str, *, by: str = TECHNICIAN, pin: str | None = None) -> Draft:
    return Draft(kind=Kind.SIGN, by=by, value={"step": step, "outcome": "done"}, pin=pin)


def _proof(scene: Scene) -> Draft:
    return Draft(kind=Kind.PROOF, by=TECHNICIAN, value={"round": round_now(scene.record())})


def _sent_twice(scene: Scene) -> None:
    """Send an entry twice, as where no answer was heard; then other content with its key."""
    scene.teller.said("The tablet sends the same entry twice: one entry, the same answer.")
    draft = Draft(kind=Kind.VALUE, by=DESK, item=ODOMETER.key, value="64210")
    key = scene.new_key()
    first, second = scene.send(draft, key), scene.send(draft, key)
    if (first.verdict, first.seq) != (second.verdict, second.seq) or first.verdict != "applied":
        raise Stuck("An entry sent twice has to be answered twice alike", second)
    scene.teller.said("The same key with other content: a conflict, nothing is written.")
    other = Draft(kind=Kind.VALUE, by=DESK, item=ODOMETER.key, value="64219")
    reply = scene.send(other, key)
    if (reply.status, reply.verdict) != (409, "conflict"):
        raise Stuck("A key used again for other content has to be a conflict", reply)


def _signed_too_early(scene: Scene) -> None:
    scene.teller.said("Intake is to be signed with points missing.")
    expect(scene, _sign("intake"), "refused", "missing")


def _wrong_pin(scene: Scene) -> None:
    scene.teller.said("A wrong PIN at the signature.")
    expect(scene, _sign("intake", pin="8520"), "pin")


def _proof_too_early(scene: Scene) -> None:
    scene.teller.said("The proof is to be signed before the wait is over and without readings.")
    expect(scene, _proof(scene), "refused", "missing", "proof_wait")


def _one_reading_live(scene: Scene) -> None:
    """Read a point at which a charged capacitor still shows."""
    record = scene.record()
    name = round_now(record)
    place = readings_asked(record, name)[-1]
    draft = Draft(kind=Kind.VALUE, by=TECHNICIAN, item=DEAD.key, qualifier=place, value="38.4")
    scene.do(draft)


def _proof_live(scene: Scene) -> None:
    scene.teller.said("One point still shows 38.4 V: not dead, and nobody can sign that away.")
    expect(scene, _proof(scene), "refused", "proof_live")
    scene.teller.said("Found: the pre-charge circuit was slow. A new round of readings.")
    place = qualifier_of(round=round_now(scene.record()))
    scene.enter(NEW_ROUND, raw=True, at=place)


def _readings_hold_too_early(scene: Scene) -> None:
    """Ask for the hold point first of all, then take gloves that are out of test."""
    scene.teller.said("Live readings are to begin without gloves, without a second person.")
    expect(scene, _hold("isolation_readings", READINGS_HOLD), "refused", "missing")
    scene.teller.said(f"Gloves {LAPSED_GLOVES} are picked; their test is overdue.")
    scene.enter(LIVE.gloves, raw=scene.shop.equipment[LAPSED_GLOVES])


def _lapsed_second(scene: Scene) -> None:
    scene.teller.said("A colleague whose qualification has run out stands by.")
    draft = Draft(
        kind=Kind.VALUE, by=LAPSED_PERSON, at=TECHNICIAN, item=LIVE.second.key, value=True
    )
    scene.do(draft)


def _readings_hold_refused(scene: Scene) -> None:
    hold = _hold("isolation_readings", READINGS_HOLD)
    expect(scene, hold, "refused", "live_gloves_lapsed", "live_second_unqualified")
    scene.teller.said("Other gloves, air-tested again, and a qualified second person.")
    scene.strike(LIVE.gloves, "Out of test, taken out of the drawer")
    scene.strike(LIVE.air_test, "Was done with the gloves that are out of test")
    scene.strike(LIVE.second, "Qualification has run out")


def _lid_before_approval(scene: Scene) -> None:
    scene.teller.said("The lid is to come off before the customer has approved the quotation.")
    hold = _hold("fault_localisation", LID_HOLD)
    expect(scene, hold, "refused", "localise_not_approved")


def _read_unrested(scene: Scene) -> None:
    module = scene.recipe.leaks[0].module
    scene.enter(SPARE_CELL_V, raw="3.552", at=qualifier_of(module=module))


def _torque_off(scene: Scene) -> None:
    """Overtighten one bolt of the first stage; the next stage stays shut until it is mended."""
    bolt, at = f"{scene.recipe.leaks[0].module} pos", qualifier_of(stage="1")
    scene.enter(LINKS.others.values, raw={"M10 neg": "5.02"}, at=at)
    scene.enter(LINKS.others.values, raw={bolt: "6.40"}, at=at)
    scene.teller.said("One bolt is out of tolerance; the second stage is to begin all the same.")
    later = Draft(kind=Kind.VALUE, by=TECHNICIAN, item=LINKS.others.values.key,
                  qualifier=qualifier_of(stage="2"), value={bolt: "9.00"})  # fmt: skip
    expect(scene, later, "refused", "torque_stage_waits")
    scene.teller.said("And the last link is to close.")
    expect(scene, _hold("module_swap", "last_link"), "refused", "torque_off")
    scene.teller.said("That bolt alone is loosened and tightened again.")
    scene.strike(LINKS.others.values, "Loosened and tightened again", at=at)
    scene.enter(LINKS.others.values, raw={bolt: "5.03"}, at=at)


def _last_link_refused(scene: Scene) -> None:
    scene.teller.said("The last link is to close, but the spare has not rested.")
    hold = _hold("module_swap", "last_link")
    expect(scene, hold, "refused", "swap_rest")
    scene.teller.said("The spare rests its hours.")
    module = scene.recipe.leaks[0].module
    scene.strike(SPARE_CELL_V, "Read before it had rested", at=qualifier_of(module=module))


def _closed_up_too_early(scene: Scene) -> None:
    scene.teller.said("The lid is to go on before isolation was read again.")
    expect(scene, _hold("reassembly", LID_ON_HOLD), "refused", "missing")
    scene.teller.said("And the disconnect is to be refitted before isolation has passed.")
    hold = _hold("road_test", DISCONNECT_HOLD)
    expect(scene, hold, "refused", "earlier_step_open")


def _connectors_unproven(scene: Scene) -> None:
    """Go on as if the proof of the morning still held once the pack is back under the vehicle."""
    scene.teller.said("Connectors are to be fitted, but the proof of the morning has run out.")
    connectors = Draft(kind=Kind.VALUE, by=TECHNICIAN, item=CONNECTORS.key, value=True)
    expect(scene, connectors, "refused", "proof_needed")
    scene.teller.said("The disconnect is to go in without its hold point.")
    refit = Draft(kind=Kind.VALUE, by=TECHNICIAN, item=DISCONNECT.key, value=True)
    expect(scene, refit, "refused", "hold_not_passed")


def _handed_over_too_early(scene: Scene) -> None:
    scene.teller.said("The customer waits: hand over before the road test is signed?")
    value = {"received_by": signature_of("Brightwater Parcels")}
    draft = Draft(kind=Kind.CLOSE, by=DESK, value=value)
    expect(scene, draft, "refused", "step_not_signed")


def _released_too_early(scene: Scene) -> None:
    scene.teller.said("Release on the same evening, though the pack was wet.")
    expect(scene, _sign("road_test", by=MANAGER), "refused", "road_24h_missing")
    scene.teller.said("And by the one who did the repair.")
    expect(scene, _sign("road_test"), "refused", "signer_unqualified", "signer_of")


MISHAPS: Final[Mapping[str, Callable[[Scene], None]]] = {
    "intake.odometer_km": _sent_twice,
    "intake.price_cap": _signed_too_early,
    "sign intake": _wrong_pin,
    "de_energise_check.proof_before": _proof_too_early,
    "de_energise_check.dead_reading": _one_reading_live,
    "proof": _proof_live,
    "isolation_readings.live_gloves": _readings_hold_too_early,
    "isolation_readings.live_second": _lapsed_second,
    f"hold isolation_readings {READINGS_HOLD}": _readings_hold_refused,
    "fault_localisation.answer": _lid_before_approval,
    "module_swap.spare_cell_v": _read_unrested,
    "module_swap.busbar_torque": _torque_off,
    "hold module_swap last_link": _last_link_refused,
    "reassembly.pack_string_v": _closed_up_too_early,
    "road_test.connectors": _connectors_unproven,
    "road_test.codes": _handed_over_too_early,
    "road_test.isolation_24h": _released_too_early,
}
"""Each mishap by what it comes before."""
