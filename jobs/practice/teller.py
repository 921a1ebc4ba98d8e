"""Tells a job in plain text: steps, hold points, refusals with their reasons, verdicts, signatures.

For a terminal: no colour, aligned, one line an act. Not here: what happens (`player`, `mishaps`).
"""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from jobs.core.entry import Kind
from jobs.core.order import holds_of
from jobs.core.section import Fact
from jobs.core.step import Step
from jobs.practice.scene import Draft, Scene
from jobs.practice.tablet import Reply
from jobs.report.wording import Wording, wording_of
from jobs.steps import STEPS

__all__ = ["Told"]

REASONS_SHOWN = 5
_WIDTH = 100
_IN = " " * 13
_ACTS = {
    Kind.SIGN: "signature",
    Kind.HOLD: "hold point",
    Kind.PROOF: "proof",
    Kind.REVISION: "definition",
    Kind.STRIKE: "struck",
    Kind.CLOSE: "hand-over",
    Kind.VALUE: "entry",
}
_VERDICTS = {
    "applied": "taken",
    "refused": "REFUSED",
    "pin": "WRONG PIN",
    "conflict": "CONFLICT",
}


def _step_named(slug: str) -> Step[Any]:
    return next(step for step in STEPS if step.slug == slug)


def _clipped(text: str, room: int) -> str:
    return text if len(text) <= room else f"{text[: room - 1]}…"


@dataclass
class Told:
    """Writes what happens; counts what there was."""

    write: Callable[[str], object]
    counts: Counter[str] = field(default_factory=Counter)
    entered: int = 0
    signed: int = -1
    sentences: list[str] = field(default_factory=list)

    def said(self, sentence: str) -> None:
        """Keep a sentence about what is tried, to be written above the act."""
        self.sentences.append(sentence)

    def acted(self, scene: Scene, draft: Draft, reply: Reply) -> None:
        """Write an act and what was answered; an entry that was simply taken is only counted."""
        signed = draft.kind is Kind.SIGN and reply.verdict == "applied"
        self._heading(scene, len(scene.record().signatures) - signed)
        for sentence in self.sentences:
            self.write(f"  · {sentence}")
        self.sentences.clear()
        self.counts[f"{draft.kind} {reply.verdict}"] += 1
        if draft.kind is Kind.VALUE and reply.verdict == "applied":
            self.entered += 1
            return
        if signed:
            self.write(f"{_IN}{self.entered} values entered")
            self.entered = 0
        about, by = _clipped(self._about(scene, draft), 56), scene.shop.names[draft.by]
        moment = f"{scene.clock.moment:%a %H:%M}"
        verdict = _VERDICTS.get(reply.verdict, reply.verdict)
        self.write(f"  {moment}  {_ACTS[draft.kind]:<11}{verdict:<10} {by:<10} {about}")
        for line in self._reasons(reply):
            self.write(_IN + line)
        if signed:
            self._verdict(scene, draft.value["step"])

    def _heading(self, scene: Scene, signed: int) -> None:
        """Write the heading of the step that is being worked on, when it is another one."""
        if scene.record().closed is not None or signed == self.signed or signed >= len(STEPS):
            return
        self.signed = signed
        self.write("")
        self.write(f"{signed + 1}  {STEPS[signed].title}")

    def _about(self, scene: Scene, draft: Draft) -> str:
        """Say in a few words what the act is about."""
        value = draft.value if isinstance(draft.value, dict) else {}
        if draft.kind is Kind.HOLD:
            step = _step_named(value["step"])
            record = scene.record()
            holds = holds_of(step, record)
            return next((h.act for h in holds if h.slug == value["hold"]), value["hold"])
        if draft.kind is Kind.SIGN:
            step = _step_named(value["step"])
            return step.title if value["outcome"] == "done" else f"{step.title}: not needed"
        if draft.kind is Kind.PROOF:
            return f"absence of voltage, round {value['round']}"
        if draft.kind is Kind.REVISION:
            return scene.pack.name
        if draft.kind is Kind.VALUE:
            return f"{draft.item} {draft.qualifier}".strip()
        return str(value.get("reason") or value.get("received_by", {}).get("name", ""))

    def _reasons(self, reply: Reply) -> list[str]:
        if reply.verdict == "pin":
            return [f"- tries left: {reply.tries_left}"]
        # What is particular is told first; what is only missing is counted.
        reasons = sorted(reply.reasons, key=lambda reason: reason.code == "missing")
        lines = [
            f"- {'missing: ' if reason.code == 'missing' else ''}{_clipped(reason.text, _WIDTH)}"
            for reason in reasons[:REASONS_SHOWN]
        ]
        more = len(reasons) - REASONS_SHOWN
        return [*lines, f"- and {more} more"] if more > 0 else lines

    def _verdict(self, scene: Scene, slug: str) -> None:
        """Write what a signed step says: headline, second person, figures against their limits."""
        record, step = scene.record(), _step_named(slug)
        words = wording_of(scene.job, record)
        signature = record.signatures[slug]
        if signature.second:
            self.write(f"{_IN}second person: {words.name(signature.second)}")
        if signature.outcome != "done":
            return
        section = step.section(record, step.assess(record))
        if section.headline is not None:
            verdict = "" if section.verdict == "none" else f"{section.verdict}: "
            self.write(f"{_IN}{verdict}{words.said(section.headline)}")
        for fact in section.facts:
            if fact.limit is not None or fact.verdict != "none":
                self._fact(fact, words)

    def _fact(self, fact: Fact, words: Wording) -> None:
        """Write a figure with its verdict, and under it the limit with its source."""
        verdict = "" if fact.verdict == "none" else fact.verdict
        label, value = _clipped(words.words(fact.label), 40), words.words(fact.value)
        self.write(f"{_IN}{label:<41}{value:<42} {verdict}".rstrip())
        limit = words.limit(fact.limit, fact.limit_kind, fact.limit_source)
        if limit:
            self.write(f"{_IN}{'':<41}limit {limit}")
