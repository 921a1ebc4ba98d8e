"""A picked spare is held for its job: by one job only, until struck, fitted or let go."""

import uuid
from collections.abc import Iterator
from dataclasses import replace

import pytest

from jobs.core.entry import Kind
from jobs.core.order import hold_passed
from jobs.models import Verdict
from jobs.practice.player import advance, book_in, close, pass_hold, play, sign
from jobs.practice.scenario import recipe
from jobs.practice.scene import DESK, TECHNICIAN, Draft, Scene, Stuck
from jobs.queries.records import job_info
from jobs.steps.fault_localisation import STEP as LOCALISATION
from jobs.steps.fault_localisation.items import (
    ANSWER,
    BILLED,
    CANDIDATES,
    CLOSED_UP,
    LABELLED,
    LID_BACK,
    QUOTATION,
    QUOTE_HOW,
    QUOTE_WHO,
    REFUSAL,
    TOW_ONLY,
)
from jobs.steps.module_swap import STEP as SWAP
from jobs.steps.module_swap.items import SPARE, SPARE_CELL_V
from jobs.views.picks import picks_for
from packs import actions, queries
from packs.spare_tests import SpareTest
from packs.spares import FITTED, IN_STOCK, QUARANTINED, RESERVED, NewSpare, SpareInfo, bars
from tests.play import a_job_at

pytestmark = pytest.mark.django_db

M9 = "module=M9"
NEW, USED, THIRD = "OB-M6-22841", "OB-M6-20017", "OB-M6-23107"
OTHER_PART, SWOLLEN = "LU-12-05530", "V12-M10-0377"


@pytest.fixture
def swap() -> Iterator[Scene]:
    with a_job_at("module_swap") as scene:
        play(scene, until=SPARE.key)
        yield scene


def number(scene: Scene) -> str:
    info = job_info(scene.job)
    assert info is not None
    return info.number


def spare(scene: Scene, serial: str = NEW) -> SpareInfo:
    return queries.spare(scene.shop.spares[serial])


def stands(scene: Scene, serial: str = NEW) -> tuple[str, str, str]:
    info = spare(scene, serial)
    return info.state, info.reserved_for, info.module


def pick(scene: Scene, serial: str = NEW, *, key: str = "") -> tuple[str, frozenset[str]]:
    value = str(scene.shop.spares[serial])
    draft = Draft(kind=Kind.VALUE, by=TECHNICIAN, item=SPARE.key, qualifier=M9, value=value)
    reply = scene.send(draft, key)
    return reply.verdict, reply.codes


def reopen(scene: Scene, step: str, *items: str) -> None:
    value = {"step": step, "reason": "again", "items": list(items)}
    scene.do(Draft(kind=Kind.REOPEN, by=TECHNICIAN, value=value))


def states(scene: Scene, serial: str = NEW) -> list[str]:
    return [event.state for event in queries.spare_events(scene.shop.spares[serial])]


def test_a_picked_spare_is_held_for_its_job_and_module(swap: Scene) -> None:
    assert pick(swap)[0] == "applied"
    assert stands(swap) == (RESERVED, number(swap), "M9")
    event = queries.spare_events(spare(swap).id)[-1]
    assert (event.job, event.module) == (number(swap), "M9")
    assert event.person_id == uuid.UUID(swap.shop.people[TECHNICIAN])


def test_the_same_pick_sent_again_writes_nothing_more(swap: Scene) -> None:
    key = str(uuid.uuid5(uuid.UUID(swap.job), "a tap"))
    assert pick(swap, key=key) == pick(swap, key=key)
    assert states(swap) == [IN_STOCK, RESERVED]


def test_a_struck_pick_goes_back_into_stock_and_may_be_picked_again(swap: Scene) -> None:
    pick(swap)
    swap.strike(SPARE, "scratched housing", at=M9)
    assert stands(swap) == (IN_STOCK, "", "")
    last = queries.spare_events(spare(swap).id)[-1]
    assert (last.note, last.job) == ("scratched housing", number(swap))
    assert pick(swap)[0] == "applied"
    assert states(swap) == [IN_STOCK, RESERVED, IN_STOCK, RESERVED]


def test_another_struck_value_leaves_the_spare_held(swap: Scene) -> None:
    pick(swap)
    play(swap, until="module_swap.spare_tester")
    swap.strike(SPARE_CELL_V, "misread", at=M9)
    assert stands(swap) == (RESERVED, number(swap), "M9")
    assert states(swap) == [IN_STOCK, RESERVED]


@pytest.fixture
def second(swap: Scene) -> Scene:
    """Another job that wants a module of the same part."""
    plate = next(p for p in swap.shop.vehicles if p != swap.recipe.plate)
    other = recipe("van-coolant").model_copy(update={"plate": plate, "slug": "van-second"})
    vehicle = replace(swap.shop.vehicles[plate], vin=swap.shop.vehicles[swap.recipe.plate].vin)
    shop = replace(swap.shop, vehicles={**swap.shop.vehicles, plate: vehicle})
    scene = book_in(shop, other, swap.clock)
    scene.hand = swap.hand
    play(scene, until=SPARE.key)
    return scene


def test_two_jobs_cannot_pick_one_spare_whichever_comes_first(swap: Scene, second: Scene) -> None:
    for first, late in ((swap, second), (second, swap)):
        assert pick(first)[0] == "applied"
        verdict, codes = pick(late)
        assert (verdict, codes) == ("refused", frozenset({"spare_taken"}))
        assert stands(first) == (RESERVED, number(first), "M9")
        kept = Verdict.objects.filter(job_id=late.job, verdict="refused").latest("at")
        [blocker] = kept.answer["blockers"]
        assert blocker["params"] == {"serial": NEW, "job": number(first)}
        first.strike(SPARE, "not this one", at=M9)
        assert stands(first)[0] == IN_STOCK


def test_what_stands_in_quarantine_is_not_picked(swap: Scene) -> None:
    actions.move_spare(
        spare_id=spare(swap).id, state=QUARANTINED, place="Yard", by=None, now=swap.clock.now()
    )
    assert pick(swap) == ("refused", frozenset({"spare_barred"}))
    assert pick(swap, USED)[0] == "applied"


def test_a_spare_without_a_test_is_not_picked_and_with_one_it_is(swap: Scene) -> None:
    now = swap.clock.now()
    new = NewSpare(serial="S-1", part="OB-M6-120", chemistry="nmc", cells=6, provenance="Donor")
    spares = {**swap.shop.spares, "S-1": actions.add_spare(new=new, by=None, now=now).id}
    swap.shop = replace(swap.shop, spares=spares)
    assert pick(swap, "S-1") == ("refused", frozenset({"spare_barred"}))
    test = SpareTest(capacity_ah=110.0, insulation_ohm=2e8)
    actions.add_spare_test(spare_id=spare(swap, "S-1").id, test=test, by=None, now=now)
    assert pick(swap, "S-1")[0] == "applied"


def test_the_pick_list_offers_what_fits_and_says_why_the_rest_does_not(swap: Scene) -> None:
    found = picks_for(SWAP, swap.record(), ()).spares
    assert {pick.label.split(",")[0] for pick in found if pick.usable} == {NEW, USED, THIRD}
    why = {pick.label.split(",")[0]: pick.why for pick in found if not pick.usable}
    assert why[OTHER_PART] == "does not fit, OB-M6-120 is needed"
    assert why[SWOLLEN] == "does not fit, OB-M6-120 is needed, quarantined, insulation not read"
    assert [pick.usable for pick in found] == sorted((p.usable for p in found), reverse=True)


def test_the_pick_list_says_which_job_holds_a_spare(swap: Scene) -> None:
    actions.hold_spare(
        spare_id=spare(swap).id, job="Q000099", module="M2", by=None, now=swap.clock.now()
    )
    pick(swap, USED)
    found = {p.label.split(",")[0]: p for p in picks_for(SWAP, swap.record(), ()).spares}
    assert found[NEW].why == "reserved for job Q000099"
    assert found[USED].why == "picked for M9"


def test_a_signed_swap_enters_the_spare_as_fitted_where_it_sits(swap: Scene) -> None:
    play(swap, until="reassembly")
    assert stands(swap) == (FITTED, number(swap), "M9")
    event = queries.spare_events(spare(swap).id)[-1]
    assert (event.state, event.job, event.module) == (FITTED, number(swap), "M9")
    assert states(swap) == [IN_STOCK, RESERVED, FITTED]


def test_a_reopened_swap_holds_its_spare_again_and_is_signed_again(swap: Scene) -> None:
    play(swap, until="reassembly")
    reopen(swap, "module_swap", "module_swap.seated")
    assert stands(swap) == (RESERVED, number(swap), "M9")
    while advance(swap, SWAP):
        pass
    for hold in SWAP.holds(swap.record(), SWAP.assess(swap.record())):
        if not hold_passed(swap.record(), SWAP, hold):
            pass_hold(swap, SWAP, hold)
    sign(swap, SWAP)
    assert stands(swap) == (FITTED, number(swap), "M9")
    assert states(swap) == [IN_STOCK, RESERVED, FITTED, RESERVED, FITTED]


def test_a_reopening_that_voids_the_pick_keeps_what_is_in_the_pack_for_this_job(
    swap: Scene,
) -> None:
    play(swap, until="reassembly")
    reopen(swap, "module_swap")
    assert stands(swap) == (RESERVED, number(swap), "")
    play(swap, until=SPARE.key)
    assert pick(swap)[0] == "applied"
    assert stands(swap) == (RESERVED, number(swap), "M9")


def test_reopening_an_earlier_step_lets_a_spare_go_that_was_only_picked(swap: Scene) -> None:
    pick(swap)
    reopen(swap, LOCALISATION.slug, "fault_localisation.leaking")
    assert stands(swap) == (IN_STOCK, "", "")


def test_a_spare_quarantined_after_it_was_picked_stops_the_signature(swap: Scene) -> None:
    pick(swap)
    actions.move_spare(
        spare_id=spare(swap).id, state=QUARANTINED, place="Yard", by=None, now=swap.clock.now()
    )
    with pytest.raises(Stuck) as stuck:
        play(swap, until="reassembly")
    assert stuck.value.reply is not None
    assert stuck.value.reply.codes == {"spare_gone"}
    assert swap.record().entries[-1].kind is Kind.REFUSAL
    assert stands(swap)[0] == QUARANTINED
    actions.move_spare(
        spare_id=spare(swap).id,
        state=IN_STOCK,
        place="Rack",
        by=None,
        now=swap.clock.now(),
        note="cold for 7 days, sound",
    )
    sign(swap, SWAP)
    assert stands(swap) == (FITTED, number(swap), "M9")


def test_closing_lets_go_what_a_hand_had_set_aside() -> None:
    with a_job_at("intake", "hatchback-declined") as scene:
        actions.set_spare_aside(
            spare_id=scene.shop.spares[OTHER_PART],
            job=number(scene),
            place="Bay 1",
            by=None,
            now=scene.clock.now(),
        )
        play(scene, closing=False)
        assert stands(scene, OTHER_PART) == (RESERVED, number(scene), "")
        close(scene)
        assert stands(scene, OTHER_PART) == (IN_STOCK, "", "")


def decline(scene: Scene) -> None:
    """Let the customer decline what is quoted now, close the pack up and the job."""
    while not (scene.record().has(CANDIDATES) and scene.record().has(QUOTATION)):
        assert advance(scene, LOCALISATION)
    if scene.record().has(ANSWER):
        scene.strike(ANSWER, "another answer")
    if not scene.record().has(QUOTE_HOW):
        scene.enter(QUOTE_HOW, "phone", by=DESK)
        scene.enter(QUOTE_WHO, "owner", by=DESK)
    asked = {item.key: item for item in LOCALISATION.items(scene.record())}
    scene.enter(ANSWER, "declined", by=DESK, at=asked[ANSWER.key].expected[-1])
    for each in (CLOSED_UP, LID_BACK, LABELLED, TOW_ONLY):
        record = scene.record()
        if each.key in {item.key for item in LOCALISATION.items(record)} and not record.has(each):
            scene.enter(each, raw=True)
    scene.enter(BILLED, "100", by=DESK)
    scene.enter(REFUSAL, {"name": "Owner", "note": "filed"}, by=DESK)
    sign(scene, LOCALISATION)
    close(scene)


def test_a_spare_that_was_fitted_goes_to_quarantine_when_its_job_closes_without_it() -> None:
    with a_job_at("reassembly") as scene:
        assert stands(scene)[0] == FITTED
        reopen(scene, "fault_localisation")
        assert stands(scene)[0] == RESERVED
        decline(scene)
        assert stands(scene) == (QUARANTINED, "", "")
        assert "fitted in this job" in queries.spare_events(scene.shop.spares[NEW])[-1].note
        assert [bar.code for bar in bars(spare(scene))] == ["quarantined"]


def test_a_job_picks_what_was_set_aside_for_it_and_no_other_does(swap: Scene) -> None:
    for job, verdict in (("Q000099", "refused"), (number(swap), "applied")):
        actions.move_spare(
            spare_id=spare(swap).id, state=IN_STOCK, place="", by=None, now=swap.clock.now()
        )
        actions.set_spare_aside(
            spare_id=spare(swap).id, job=job, place="Bay", by=None, now=swap.clock.now()
        )
        assert pick(swap)[0] == verdict
