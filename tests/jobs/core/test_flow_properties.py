"""Whatever is tried in whatever order, the flow holds.

Random acts are tried on three small rooms, each carried out only when its gate is empty. What
must then hold is checked from the entries alone, without asking any gate.
"""

from collections.abc import Callable, Sequence
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from jobs.core.closing import close_gate, plan_reopen, reopen_gate
from jobs.core.entering import enter_gate, strike_gate
from jobs.core.entry import Entry, Kind
from jobs.core.flow import hold_gate, not_needed_gate, proof_gate, sign_gate
from jobs.core.item import Item, qualifier_of
from tests.builders import ASTER, LORNE, MUNK, THORNE, Bench, a_person
from tests.small_rooms import (
    LID_OFF,
    LID_ON,
    LOOK,
    PROBE,
    PROBE_SECOND,
    PULL,
    REFIT,
    SECOND,
    SHUT,
    SMALL,
    VOLTS,
    WORK,
)

Act = tuple[str, int, str, str]
PERSON = st.sampled_from([ASTER, MUNK, THORNE, LORNE])
ACTS = st.tuples(
    st.sampled_from(
        [
            *["enter"] * 3,
            *["sign"] * 2,
            "hold",
            "prove",
            "strike",
            "reopen",
            "not_needed",
            "close",
            "wait",
        ]
    ),
    st.integers(0, 7),
    PERSON,
    st.sampled_from(["3", "0", "7", "30", "60", "150"]),
)
ITEMS: tuple[Item[Any], ...] = (VOLTS, SECOND, PROBE, PROBE_SECOND, PULL, LID_OFF, LID_ON, REFIT)

NEEDED: dict[str, tuple[Item[Any], ...]] = {
    "look": (VOLTS, SECOND),
    "work": (PULL, LID_OFF),
    "shut": (LID_ON, REFIT),
}


def _enter(bench: Bench, number: int, person: str, volts: str) -> None:
    item = ITEMS[number % len(ITEMS)]
    parts = {"round": "1"} if item.qualifiers else {}
    record, by = bench.record(), a_person(person)
    if not enter_gate(SMALL, record, key=item.key, qualifier=qualifier_of(**parts), by=by):
        raw = volts if item.unit else True
        bench.put(item, raw, by=person, **parts)


def _sign(bench: Bench, number: int, person: str, *, needed: bool) -> None:
    step, record, by = SMALL[number % 3], bench.record(), a_person(person)
    check = sign_gate if needed else not_needed_gate
    if not check(SMALL, record, step, by):
        outcome, ends = ("done", step.ends(record)) if needed else ("not_needed", "")
        bench.sign(step.slug, by=person, outcome=outcome, ends=ends)


def _hold(bench: Bench, person: str) -> None:
    if not hold_gate(SMALL, bench.record(), WORK, "open", a_person(person)):
        bench.add(Kind.HOLD, {"step": "work", "hold": "open"}, by=person)


def _prove(bench: Bench, person: str) -> None:
    judged, points = proof_gate(SMALL, bench.record(), round_name="1", by=a_person(person))
    if not points and judged is not None and judged.second is not None:
        bench.prove(by=person, second=judged.second.id)


def _strike(bench: Bench, number: int) -> None:
    values = [entry for entry in bench.entries if entry.kind is Kind.VALUE]
    if values:
        key = values[number % len(values)].key
        if not strike_gate(SMALL, bench.record(), key=key):
            bench.add(Kind.STRIKE, {"key": key, "reason": "x"})


def _reopen(bench: Bench, number: int) -> None:
    step, record = SMALL[number % 3], bench.record()
    if not reopen_gate(record, step):
        plan = plan_reopen(SMALL, record, step, [])
        value = {"voids": plan.voids, "supersedes": plan.supersedes, "reason": "x"}
        bench.add(Kind.REOPEN, {"step": step.slug, **value})


def _close(bench: Bench) -> None:
    how, points = close_gate(SMALL, bench.record())
    if not points:
        bench.add(Kind.CLOSE, {"how": how})


def _try(bench: Bench, act: Act) -> None:
    what, number, person, volts = act
    tries: dict[str, Callable[[], None]] = {
        "enter": lambda: _enter(bench, number, person, volts),
        "sign": lambda: _sign(bench, number, person, needed=True),
        "not_needed": lambda: _sign(bench, number, person, needed=False),
        "hold": lambda: _hold(bench, person),
        "prove": lambda: _prove(bench, person),
        "strike": lambda: _strike(bench, number),
        "reopen": lambda: _reopen(bench, number),
        "close": lambda: _close(bench),
        "wait": lambda: bench.wait(hours=1.5),
    }
    tries[what]()


def _in_force(before: Sequence[Entry], item: str) -> bool:
    """Tell from bare entries whether an item has a value that nothing has struck or voided."""
    alive = False
    for entry in before:
        if entry.kind is Kind.VALUE and entry.item == item:
            alive = True
        struck = entry.kind is Kind.STRIKE and any(
            e.key == entry.value["key"] and e.item == item for e in before
        )
        voided = entry.kind is Kind.REOPEN and item in entry.value["voids"]
        alive = alive and not struck and not voided
    return alive


def _signed(before: Sequence[Entry], slug: str) -> bool:
    signed = False
    for entry in before:
        signed |= entry.kind is Kind.SIGN and entry.value["step"] == slug
        if entry.kind is Kind.REOPEN and slug in entry.value["supersedes"]:
            signed = False
    return signed


def _check_sign(before: Sequence[Entry], entry: Entry) -> None:
    slug, outcome = entry.value["step"], entry.value["outcome"]
    order = [step.slug for step in SMALL]
    assert all(_signed(before, earlier) for earlier in order[: order.index(slug)])
    assert not _signed(before, slug)
    if outcome == "done":
        needed = NEEDED[slug]
        assert all(_in_force(before, item.key) for item in needed)
    if slug == "look":
        volts = [float(e.value["number"]) for e in before if e.item == VOLTS.key]
        assert volts[-1] <= 50
        second = [e.person for e in before if e.item == SECOND.key][-1]
        assert second != entry.person


def _check_value(before: Sequence[Entry], entry: Entry) -> None:
    proofs = [e for e in before if e.kind is Kind.PROOF]
    if entry.item == PULL.key:
        assert proofs
        assert entry.person in {proofs[-1].person, proofs[-1].value["second"]}
        assert (entry.at - proofs[-1].at).total_seconds() < 4 * 3600
        assert REFIT.key not in {e.item for e in before if e.seq > proofs[-1].seq}
    if entry.item == LID_OFF.key:
        holds = [e.seq for e in before if e.kind is Kind.HOLD]
        voided = [
            e.seq for e in before if e.kind is Kind.REOPEN and "work" in e.value["supersedes"]
        ]
        assert holds
        assert not voided or holds[-1] > voided[-1]


@given(st.lists(ACTS, max_size=60))
def test_no_sequence_of_acts_signs_passes_or_closes_what_is_not_complete(acts: list[Act]) -> None:
    bench = Bench()
    for act in acts:
        _try(bench, act)
    for place, entry in enumerate(bench.entries):
        before = bench.entries[:place]
        assert all(e.kind is not Kind.CLOSE for e in before)
        if entry.kind is Kind.SIGN:
            _check_sign(before, entry)
        elif entry.kind is Kind.VALUE:
            _check_value(before, entry)
        elif entry.kind is Kind.HOLD:
            assert _in_force(before, PULL.key)
        elif entry.kind is Kind.CLOSE and entry.value["how"] == "handed_over":
            assert all(_signed(before, step.slug) for step in (LOOK, WORK, SHUT))


@given(st.lists(ACTS, max_size=40))
def test_the_fold_depends_on_the_entries_alone(acts: list[Act]) -> None:
    bench = Bench()
    for act in acts:
        _try(bench, act)
    again = Bench(now=bench.now, entries=list(bench.entries))
    assert again.record() == bench.record()


def test_the_acts_tried_reach_a_closed_job() -> None:
    acts: list[Act] = [
        ("enter", 0, ASTER, "3"),
        ("enter", 1, MUNK, "3"),
        ("enter", 2, ASTER, "3"),
        ("enter", 3, MUNK, "3"),
        ("prove", 0, ASTER, "3"),
        ("sign", 0, ASTER, "3"),
        ("enter", 4, ASTER, "3"),
        ("hold", 0, ASTER, "3"),
        ("enter", 5, ASTER, "3"),
        ("sign", 1, ASTER, "3"),
        ("enter", 6, ASTER, "3"),
        ("enter", 7, ASTER, "3"),
        ("sign", 2, THORNE, "3"),
        ("close", 0, LORNE, "3"),
    ]
    bench = Bench()
    for act in acts:
        _try(bench, act)
    assert bench.entries[-1].kind is Kind.CLOSE
    assert len(bench.entries) == len(acts)
