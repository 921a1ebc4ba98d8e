"""What an action of this app may refuse, and how.

Refused           the base: a stable code and its parameters
 ├─ InputRefused  what was entered; the person can mend the named field
 └─ Conflict      it no longer fits what is stored

A definition that cannot be read is refused by ``DefinitionRefused`` of packs/definition.py.
The sentence is made when the refusal is shown. Anything else that is raised is a bug.
"""

from typing import Final

from typing_extensions import override

SENTENCES: Final = {
    "required": "Fill this in.",
    "not_positive": "Enter a value above zero.",
    "unknown_spare": "There is no such spare (any more). Reload and choose again.",
    "unknown_revision": "There is no such revision of a pack definition.",
    "unknown_pack": "There is no definition called {slug}. Upload it first.",
    "unknown_chemistry": "Choose one of: {known}.",
    "unknown_state": "{state} is not a state of a spare.",
    "serial_taken": "Serial {serial} is in the register already. Check the plate.",
    "reason_needed": "Say on what grounds it leaves quarantine, and who found so.",
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
        return SENTENCES[self.code].format(**self.parameters)


class InputRefused(Refused):
    """What was entered cannot stand; the field says where."""


class Conflict(Refused):
    """It no longer fits what is stored."""
