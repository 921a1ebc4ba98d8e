"""The state of the high voltage, always in words, on top of every screen of a job."""

from dataclasses import dataclass

from jobs.core.record import Record

__all__ = ["HighVoltage", "high_voltage"]


@dataclass(frozen=True, slots=True)
class HighVoltage:
    """The state of the high voltage, for the band on top of every screen of a job.

    Attributes
    ----------
    state : str
        "not_proven", "proven", "lapsed" or "pack_open".
    technician, second : str
        Who proved it; identifiers.
    since, until : str
        ISO times of the proof (UTC); empty without one.
    proof_holds : bool
        Whether the circuit outside the pack is proven dead, also while the pack is open.
    ended_by : str
        What ended the proof; empty while it holds or has run out.
    """

    state: str
    technician: str = ""
    second: str = ""
    since: str = ""
    until: str = ""
    proof_holds: bool = False
    ended_by: str = ""


def high_voltage(record: Record) -> HighVoltage:
    """Give the state of the high voltage in the words of the band."""
    proof = record.proof
    if proof is None:
        return HighVoltage("pack_open" if record.pack_open else "not_proven")
    holds = record.proof_holds()
    state = "proven" if holds else "lapsed"
    return HighVoltage(
        "pack_open" if record.pack_open else state,
        technician=proof.technician,
        second=proof.second,
        since=proof.at.isoformat(),
        until=proof.until.isoformat(),
        proof_holds=holds,
        ended_by=proof.ended_by,
    )
