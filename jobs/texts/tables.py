"""Which modules speak to people without Django, and where words stand behind codes."""

import re
from collections.abc import Mapping
from typing import Final

__all__ = ["NO_TEXT", "TABLES", "WHOLE"]

WHOLE: Final = (
    "jobs/actions/",
    "jobs/core/",
    "jobs/practice/room/",
    "jobs/queries/",
    "jobs/report/",
    "jobs/steps/",
    "jobs/views/",
    "packs/actions/",
    "packs/decay_strip.py",
    "packs/definition_fields.py",
    "packs/definition_form.py",
    "packs/definition_read.py",
    "packs/draft_",
    "packs/errors.py",
    "packs/forms.py",
    "packs/pack_map.py",
    "packs/settling_curve.py",
    "packs/sheet.py",
    "packs/spare",
    "packs/string_line.py",
    "packs/views/",
    "workshop/actions/",
    "workshop/backups/",
    "workshop/equipment.py",
    "workshop/errors.py",
    "workshop/limits.py",
    "workshop/people.py",
    "workshop/ratings.py",
    "workshop/shelf.py",
    "workshop/views/",
    "workshop/vin_check.py",
)
"""Beginnings of the paths of modules in which every phrase is a text."""
NO_TEXT: Final = re.compile(
    r"[\\<>\[\]]|%[sd(]|%[a-zA-Z] %|charset=|Callable|PRAGMA|SELECT|CREATE|^Practice [A-Z][0-9]$"
)
"""What a text never has: then it is a pattern, a type or a statement."""
TABLES: Final[Mapping[str, tuple[str, ...]]] = {
    "jobs/core/desk.py": (
        "CALLS",
        "LINES",
        "PAYERS",
        "PLACES",
        "PROMISE_REASONS",
        "TEXTS",
        "WARRANTIES",
        "WAYS_SENT",
    ),
    "jobs/core/insulation.py": ("LABELS",),
    "jobs/core/lanes.py": ("TITLE", "WORDS"),
    "jobs/core/quotation.py": ("KINDS",),
    "jobs/core/torque.py": ("_LABELS",),
    "jobs/core/torque_sheet.py": ("_WORDS",),
    "jobs/core/vehicle_guide.py": ("_POLE_WORDS",),
    "jobs/queries/wanted.py": ("PROMISED", "SORTS"),
    "jobs/report/wording.py": ("KINDS", "NAMED", "PARTS", "POLES"),
    "jobs/steps/de_energise_check/items.py": ("_PROTECTION",),
    "jobs/steps/fault_localisation/items.py": ("WHAT_SEEN",),
    "jobs/steps/intake/assessment.py": ("MEANINGS",),
    "jobs/steps/isolation_readings/items.py": ("CONDITIONS",),
    "jobs/views/holding_words.py": ("HAZARDS", "STATES", "WAIT_TITLES"),
    "jobs/views/lists.py": ("TIMER_TITLES",),
    "jobs/views/watch_page.py": ("WORDS",),
    "packs/chemistries.py": ("CHEMISTRY_WORDS",),
    "packs/definition_fields.py": ("KINDS",),
    "packs/explanations/charge.py": ("WORDS",),
    "packs/explanations/cycle.py": ("WORDS",),
    "packs/explanations/decay.py": ("WORDS",),
    "packs/explanations/isolation_tester.py": ("WORDS",),
    "packs/explanations/joint.py": ("WORDS",),
    "packs/explanations/leak.py": ("WORDS",),
    "packs/definition_form.py": ("DISCONNECTS", "SECTIONS", "_LIDS", "_PATTERNS", "_POINT"),
    "packs/settling_curve.py": ("_WORDS",),
    "packs/sheet.py": (
        "KIND_WORDS",
        "_DISCONNECT_WORDS",
        "_LID_WORDS",
        "_PATTERN_WORDS",
    ),
    "packs/spares.py": ("BARS", "EVENTS", "JOB_EVENTS", "STATES"),
    "packs/views/physical.py": ("EVENTS",),
    "packs/views/spares.py": ("SORT_WORDS",),
    "workshop/equipment.py": ("KINDS", "UNUSABLE"),
    "workshop/limits.py": ("DEFAULTS", "KINDS"),
    "workshop/people.py": ("QUALIFICATIONS", "ROLES"),
    "workshop/shelf.py": ("STATES",),
    "workshop/views/history.py": ("DAYS", "WHAT"),
    "workshop/views/people.py": ("STATES",),
}
"""Module to the names of its tables of words, in which a single word is a text too."""
