"""One way the de-energise check is done, for tests that change a part of it."""

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from jobs.core.entry import Kind
from jobs.core.flow import gate
from jobs.core.item import Effect, Item, tick
from jobs.core.record import Record
from jobs.core.step import ProofRound
from jobs.steps.de_energise_check import STEP
from jobs.steps.de_energise_check.items import (
    AFTER,
    AIR_TEST,
    AREA,
    BEFORE,
    CABLE,
    DEAD,
    DISCONNECT,
    GLOVES,
    INDICATOR,
    KEYS,
    LABEL,
    LOCK,
    SECOND,
    SHIELD,
    SUPPLY,
    TOOLS,
    UNIT,
    readings_asked,
)
from tests.builders import (
    ASTER,
    MUNK,
    Bench,
    a_bench,
    an_equipment,
)

REFITTED = tick("road_test.disconnect", "Refitted", effect=Effect.ENDS_PROOF)
WITH_DIGITS: dict[str, Any] = {
    "rated_v": 1000,
    "has_digits": True,
    "accuracy_percent": 1.0,
    "accuracy_counts": 2,
    "resolution_v": 0.1,
}
METER_RATINGS: dict[str, Any] = {
    "rated_v": 1000,
    "input_ohm": 1e7,
    "input_tolerance_percent": 1,
    "accuracy_percent": 0.5,
    "accuracy_counts": 2,
    "resolution_v": 0.01,
}
FALLING = [
    ["0", "120"],
    ["30", "44.1"],
    ["60", "16.2"],
    ["90", "6.0"],
    ["120", "2.2"],
    ["150", "0.8"],
]


@dataclass
class Scene:
    """One way the step is done; fields are what a test changes."""

    bench: Bench = field(default_factory=a_bench)
    indicator: Any = field(
        default_factory=lambda: an_equipment("two_pole_indicator", **WITH_DIGITS)
    )
    unit: Any = field(default_factory=lambda: an_equipment("proving_unit", output_v=400))
    gloves: Any = field(
        default_factory=lambda: an_equipment("gloves", glove_class="0", max_dc_v=1500)
    )
    tools: Any = field(
        default_factory=lambda: an_equipment("insulated_tools", due_on=None, rated_v=1000)
    )
    shield: Any = field(
        default_factory=lambda: an_equipment("face_shield", due_on=None, marking="A")
    )
    before: str = "399.5"
    after: str = "399.5"
    reading: str = "0.2"
    wait_min: float = 10.0
    gap_min: float = 4.0

    def prepare(self) -> "Scene":
        self.bench.put(LABEL)
        self.bench.put(AREA)
        return self

    def isolate(self, name: str = "1") -> "Scene":
        bench = self.bench
        bench.put(KEYS, ASTER, round=name)
        bench.put(CABLE, round=name)
        bench.put(SUPPLY, round=name)
        bench.put(DISCONNECT, round=name)
        bench.put(LOCK, "Lock 14", round=name)
        return self

    def protect(self, name: str = "1") -> "Scene":
        self.bench.put(GLOVES, self.gloves, round=name)
        self.bench.put(SHIELD, self.shield, round=name)
        self.bench.put(TOOLS, self.tools, round=name)
        return self.air_test(name)

    def air_test(self, name: str = "1", by: str = ASTER) -> "Scene":
        self.bench.put(AIR_TEST, by=by, round=name)
        return self

    def read(self, name: str = "1") -> "Scene":
        bench = self.bench
        bench.wait(minutes=self.wait_min)
        bench.put(INDICATOR, self.indicator, round=name)
        bench.put(UNIT, self.unit, round=name)
        bench.put(BEFORE, self.before, round=name)
        for qualifier in readings_asked(bench.record(), name):
            self.one(qualifier, self.reading)
        bench.wait(minutes=self.gap_min)
        bench.put(AFTER, self.after, round=name)
        return self

    def one(self, qualifier: str, typed: str) -> "Scene":
        parts = dict(part.split("=") for part in qualifier.split(";"))
        self.bench.put(DEAD, typed, **parts)
        return self

    def second(self, name: str = "1", by: str = MUNK) -> "Scene":
        self.bench.put(SECOND, by=by, round=name)
        return self

    def whole(self) -> "Scene":
        return self.prepare().isolate().protect().read().second()

    def strike(self, item: Item[Any], qualifier: str = "") -> "Scene":
        values = self.bench.record().live[item.key]
        keys = [e.key for e in values if not qualifier or e.qualifier == qualifier]
        self.bench.add(Kind.STRIKE, {"key": keys[-1], "reason": "mistaken"})
        return self

    def prove(self, name: str = "1") -> "Scene":
        until = (self.bench.now + timedelta(hours=4)).isoformat()
        self.bench.add(Kind.PROOF, {"until": until, "second": MUNK, "round": name})
        return self

    def end(self, cause: str) -> "Scene":
        self.bench.add(Kind.PROOF_END, {"cause": cause})
        return self

    @property
    def record(self) -> Record:
        return self.bench.record()

    def judged(self, name: str = "1") -> ProofRound:
        assert STEP.prove is not None
        return STEP.prove(self.record, name)

    def codes(self, name: str = "1") -> list[str]:
        return [blocker.code for blocker in self.judged(name).blockers]

    def gate(self) -> list[str]:
        return [blocker.code for blocker in gate((STEP,), self.record, STEP)]
