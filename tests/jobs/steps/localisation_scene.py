"""A delivery van taken through the fault localisation by R. Aster."""

from jobs.steps.fault_localisation.items import (
    ANSWER,
    CANDIDATES,
    CAPPED,
    CHARGE_PERCENT,
    LEAKING,
    LID_HOLD,
    LID_METHOD,
    LID_OFF,
    LINK_HOLD,
    LINK_OPENED,
    LIVE,
    OUTCOME,
    QUARANTINE_FREE,
    QUOTATION,
    QUOTE_HOW,
    QUOTE_WHO,
    READING,
    SECURED,
    SEEN,
    SENSE_OFF,
    SETTLED,
    SLUG,
    TABLE,
)
from packs.physics.simulate import PackUnderTest, SimulatedLeak
from tests.builders import Bench, a_quotation, an_equipment
from tests.jobs.steps.isolation_scene import (
    LEAK_IN_M3,
    an_isolation_bench,
    put_live,
    simulated,
    volts,
)

LIFTING_TABLE = an_equipment("lifting_table", max_kg=1000)
LINKS_OF_M3 = ("M2", "M3")


def put_quotation(bench: Bench, answer: str = "approved") -> None:
    """Enter the quotation and the customer's answer."""
    bench.put(CANDIDATES, "Module M3 leaks; open, replace, close, test")
    bench.put(QUOTATION, a_quotation())
    bench.put(QUOTE_HOW, "message")
    bench.put(QUOTE_WHO, "The owner, this morning")
    bench.put(ANSWER, answer, version="1")


def put_before_lid(bench: Bench) -> None:
    """Enter all that the first hold point needs."""
    bench.put(TABLE, LIFTING_TABLE)
    bench.put(SECURED)
    bench.put(CAPPED)
    put_live(bench, LIVE)
    bench.put(CHARGE_PERCENT, "22")
    bench.put(QUARANTINE_FREE)
    bench.put(LID_METHOD, "24 bolts, insulated sockets")


def put_hold(bench: Bench, hold: str) -> None:
    """Pass a hold point without asking its gate."""
    bench.hold(SLUG, hold)


def put_lid_off(bench: Bench) -> None:
    """Take the lid off and the sense leads, and see nothing."""
    put_hold(bench, LID_HOLD)
    bench.put(LID_OFF)
    bench.put(SENSE_OFF)
    bench.put(SEEN, what="nothing")


def put_open_reading(bench: Bench, van: PackUnderTest, module: str, pole: str, *links: str) -> None:
    """Enter a reading with links open."""
    bench.put(
        READING, volts(van, module, pole, *links),
        module=module, pole=pole, open="+".join(links) or "none", shunt="none",
    )  # fmt: skip


def put_links(bench: Bench, *leaks: SimulatedLeak) -> None:
    """Open both links of M3 and read it and its neighbours by themselves."""
    assert bench.pack is not None
    van = simulated(bench.pack, *leaks)
    put_hold(bench, LINK_HOLD)
    for name in LINKS_OF_M3:
        bench.put(LINK_OPENED, after=name)
    for module, pole in (("M3", "neg"), ("M3", "pos"), ("M2", "pos"), ("M7", "pos")):
        put_open_reading(bench, van, module, pole, *LINKS_OF_M3)
    bench.put(SETTLED)


def an_open_bench(*leaks: SimulatedLeak) -> Bench:
    """Give a bench with the lid off and nothing read since."""
    bench = an_isolation_bench(*(leaks or (LEAK_IN_M3,)))
    put_quotation(bench)
    put_before_lid(bench)
    put_lid_off(bench)
    return bench


def a_localised_bench() -> Bench:
    """Give a bench on which module M3 was named, confirmed and ticked."""
    bench = an_open_bench()
    put_links(bench, LEAK_IN_M3)
    bench.put(OUTCOME, "module")
    bench.put(LEAKING, module="M3")
    return bench
