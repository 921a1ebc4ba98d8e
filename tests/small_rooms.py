"""Three small rooms for tests of the flow: read, work behind a hold point, close again."""

from dataclasses import dataclass
from datetime import timedelta

from jobs.core.item import Effect, qualifier_of, reading, signature, tick
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.section import Section
from jobs.core.step import Hold, ProofRound, Signers, Step

VOLTS = reading("look.volts", "Voltage", unit="V", low=-1000, high=1000)
SECOND = signature("look.second", "Second person")
PROBE = reading(
    "look.probe",
    "Proof reading",
    unit="V",
    low=0,
    high=1000,
    many="each",
    qualifiers=("round",),
    anytime=True,
    needed=False,
)
PROBE_SECOND = signature(
    "look.probe_second",
    "Second person",
    many="each",
    qualifiers=("round",),
    anytime=True,
    needed=False,
)
LID_OFF = tick("work.lid_off", "Lid off", hold="open", effect=Effect.OPENS_PACK)
PULL = tick("work.pull", "Pull the plug", needs_proof=True)
LID_ON = tick("shut.lid_on", "Lid on", effect=Effect.CLOSES_PACK)
REFIT = tick("shut.refit", "Refit the plug", effect=Effect.ENDS_PROOF)

TOO_HIGH = Reason("too_high", "The voltage is {volts} V.")
SPREAD = Reason("spread", "The spread is {mv} mV.", countersign=True)
NOT_DEAD = Reason("not_dead", "Still live.")


@dataclass(frozen=True, slots=True)
class Looked:
    """What the small rooms compute."""

    volts: float | None


def _assess(record: Record) -> Looked:
    return Looked(record.get(VOLTS))


def _no_holds(_record: Record, _result: Looked) -> tuple[Hold, ...]:
    return ()


def _no_blockers(_record: Record, _result: Looked) -> tuple[Blocker, ...]:
    return ()


def _section(_record: Record, _result: Looked) -> Section:
    return Section()


def _look_blockers(_record: Record, result: Looked) -> tuple[Blocker, ...]:
    volts = result.volts
    if volts is None:
        return ()
    if volts > 100:
        return (TOO_HIGH(VOLTS.key, volts=volts),)
    return (SPREAD(VOLTS.key, mv=volts),) if volts > 50 else ()


def _prove(record: Record, round_name: str) -> ProofRound:
    qualifier = qualifier_of(round=round_name)
    volts, second = record.get(PROBE, qualifier), record.get(PROBE_SECOND, qualifier)
    dead = volts is not None and volts < 5 and second is not None
    return ProofRound(
        verdict="dead" if dead else "void",
        blockers=() if dead else (NOT_DEAD(PROBE.key),),
        second=second,
        until=record.now + timedelta(hours=4),
        seal=volts,
    )


def _work_holds(record: Record, _result: Looked) -> tuple[Hold, ...]:
    volts = record.get(VOLTS)
    against = (TOO_HIGH(VOLTS.key, volts=volts),) if volts is not None and volts > 20 else ()
    return (
        Hold(slug="open", act="the lid comes off", needs=(PULL,), blockers=against, valid_h=12),
    )


LOOK = Step(
    slug="look",
    title="Look",
    signers=Signers(qualification="live_work", second=SECOND),
    items=lambda _record: (VOLTS, SECOND, PROBE, PROBE_SECOND),
    assess=_assess,
    holds=_no_holds,
    blockers=_look_blockers,
    section=_section,
    reasons=(TOO_HIGH, SPREAD, NOT_DEAD),
    prove=_prove,
)
WORK = Step(
    slug="work",
    title="Work",
    signers=Signers(qualification="live_work"),
    items=lambda _record: (PULL, LID_OFF),
    assess=_assess,
    holds=_work_holds,
    blockers=_no_blockers,
    section=_section,
    reasons=(),
    skip=lambda record: TOO_HIGH if record.get(VOLTS) == 0 else None,
    ends=lambda record: "declined" if record.get(VOLTS) == 7 else "",
)
SHUT = Step(
    slug="shut",
    title="Shut",
    signers=Signers(qualification="release", not_signer_of=("work",)),
    items=lambda _record: (LID_ON, REFIT),
    assess=_assess,
    holds=_no_holds,
    blockers=_no_blockers,
    section=_section,
    reasons=(),
)
SMALL = (LOOK, WORK, SHUT)
