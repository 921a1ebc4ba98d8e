"""What an action of this app may refuse, and how.

Refused           the base: a stable code and its parameters
 ├─ InputRefused  what was entered; the person can mend the named field
 └─ Conflict      it no longer fits what is stored

A definition that cannot be read is refused by ``DefinitionRefused`` of packs/definition.py.
The sentence is made when the refusal is shown. Anything else that is raised is a bug.
"""

from typing import Final

from django.utils.translation import gettext
from typing_extensions import override

SENTENCES: Final = {
    "required": "Fill this in.",
    "not_positive": "Enter a value above zero.",
    "unknown_spare": "There is no such spare (any more). Reload and choose again.",
    "unknown_revision": "There is no such revision of a pack definition.",
    "unknown_draft": "There is no such draft (any more). It was published or discarded.",
    "draft_changed": "Somebody changed this part of the draft while you were writing.",
    "draft_exists": "There is a draft of {slug} already. Go on with that one, or discard it.",
    "kind_exists": "There is a definition called {slug} already. Change that one by form.",
    "slug_fixed": "The short name of {slug} stays: jobs and drafts go by it.",
    "draft_incomplete": "Before this definition can be used, {count} points are missing or wrong.",
    "newer_revision": "Revision {number} was added meanwhile. Look at the differences again.",
    "note_needed": "Say what changed and why.",
    "unknown_pack": "There is no definition called {slug}. Upload it first.",
    "unknown_chemistry": "Choose one of: {known}.",
    "unknown_state": "{state} is not a state of a spare.",
    "serial_taken": "Serial {serial} is in the register already. Check the plate.",
    "held_by_job": "It is reserved for job {job}. Strike it in that job first.",
    "unknown_job": "There is no open job {job}. Check the number.",
    "nothing_measured": "Enter at least one measured value.",
    "negative": "Enter 0 or more.",
    "rest_without_voltage": "Enter the cell voltage that was read after this rest.",
    "unknown_unit": "There is no such pack (any more). Reload and choose again.",
    "unit_taken": "Pack {serial} stands in the register as {kind} already. Use that one.",
    "kind_differs": "Pack {serial} stands in the register as {kind}, not as {wanted}.",
    "correction_reason": "Say what was wrong and how it was found out.",
    "reason_needed": "Say on what grounds it leaves quarantine, and who found so.",
    "watch_runs": "Its temperature watch still runs. It leaves quarantine when that is over.",
    "tests_needed": "Capacity or resistance, cell voltage and insulation have to be measured here "
    "before it becomes a spare. Add a test first.",
    "no_such_move": "A spare that is {before} cannot become {after}.",
    "bound_without_value": "Enter the resistance the instrument showed, or leave both empty.",
    "in_future": "This date lies in the future. Enter the day of the test.",
    "pack_withdrawn": "{slug} was withdrawn from use. Use another definition.",
}
"""Code to sentence, with the parameters it takes."""


class Refused(Exception):
    """Something a person asked for was refused, with a stable code.

    Parameters
    ----------
    code : str
        One of ``SENTENCES``.
    field : str
        Name of the field it belongs to, or "" for the whole.
    **parameters : object
        What the sentence needs.
    """

    def __init__(self, code: str, field: str = "", **parameters: object) -> None:
        super().__init__(code)
        self.code = code
        self.field = field
        self.parameters = parameters

    @override
    def __str__(self) -> str:
        return gettext(SENTENCES[self.code]).format(**self.parameters)


class InputRefused(Refused):
    """What was entered cannot stand; the field says where."""


class Conflict(Refused):
    """It no longer fits what is stored."""
