"""What every kind of act needs to know before it is allowed, and the two ways it can end."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from jobs.core.draft import Draft
from jobs.core.entry import Json
from jobs.core.item import PersonUsed
from jobs.core.reason import Blocker
from jobs.core.record import Record
from jobs.core.seal import fingerprint
from jobs.core.step import Step
from jobs.models import Job
from jobs.steps import STEPS

__all__ = ["Act", "Allowed", "Refused", "step_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One draft, the job it belongs to as it stands, and who does it."""

    draft: Draft
    job: Job
    record: Record
    by: PersonUsed
    by_snapshot: Json
    now: datetime


@dataclass(frozen=True, slots=True)
class Allowed:
    """The act may be done: the value to store, what it does to the vehicle, its sheet of paper."""

    value: Json
    effect: str = ""
    paper: Json = None


@dataclass(frozen=True, slots=True)
class Refused:
    """The act may not be done; `recorded` writes the refusal into the chain."""

    blockers: tuple[Blocker, ...]
    recorded: bool = False


def step_of(slug: object) -> Step[Any] | None:
    """Give the step of a slug; None when there is none."""
    return next((step for step in STEPS if step.slug == slug), None)


def refusal_value(act: Act, blockers: tuple[Blocker, ...]) -> Json:
    """Give the value of a recorded refusal: codes and parameters, never sentences."""
    wanted = act.draft.value if isinstance(act.draft.value, dict) else {}
    named = {
        key: wanted[key] for key in ("step", "hold", "round") if isinstance(wanted.get(key), str)
    }
    return {
        "act": str(act.draft.kind),
        "of": fingerprint(act.draft.key),
        **named,
        "blockers": [
            {
                "code": blocker.code,
                "item": blocker.item,
                "qualifier": blocker.qualifier,
                "params": {name: str(value) for name, value in blocker.params.items()},
            }
            for blocker in blockers
        ],
    }
