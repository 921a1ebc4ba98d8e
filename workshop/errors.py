"""What an action of this app may refuse, and how.

Refused           the base: a stable code and its parameters
 ├─ InputRefused  what was entered; the person can mend the named field
 ├─ NotAllowed    this person may not do it
 └─ Conflict      somebody else was first, or it no longer fits what is stored

The sentence is made when the refusal is shown. Anything else that is raised is a bug.
"""

from typing import Final

from django.utils.translation import gettext
from typing_extensions import override

SENTENCES: Final = {
    "required": "Fill this in.",
    "not_one_of": "Choose one of the offered values.",
    "not_valid": "This does not fit: {why}",
    "too_long": "At most {most} characters.",
    "unknown": "There is no such entry in the register (any more). Reload and choose again.",
    "label_taken": "The label {label} is in use by another piece of equipment. Choose another.",
    "short_name_taken": "Somebody else already uses {short_name}. Choose another short name.",
    "already_withdrawn": "This was already withdrawn from use.",
    "vehicle_known": "A vehicle with this plate or VIN is known already. Say which it is.",
    "works_here": "This person works here already.",
    "people_exist": "The first manager exists already. Ask a manager to add you.",
    "last_manager": "This is the last manager who can sign on. Add another manager first.",
    "pin_length": "A PIN has 4 to 8 digits and nothing else.",
    "pin_trivial": "This PIN is too easy to guess: no rows such as 3456, no repeats such as 4747.",
    "password_length": "A password has 10 to 128 characters.",
    "password_common": "This password is guessed first. Take several words, or letters and digits.",
    "password_name": "Leave names of people and of the workshop out of a password.",
    "password_unchanged": "Choose a password that differs from the old one.",
    "password_first": "Set a password of your own first, or you would shut yourself out.",
    "pin_unchanged": "Choose a PIN that differs from the old one.",
    "not_a_manager": "Only a manager can do this.",
    "not_technician": "Only a technician or a manager can do this.",
    "not_front_desk": "Only front desk or a manager can do this.",
    "not_own_pin": "Only the person themselves or a manager can set this PIN.",
    "not_signed_on": "Sign on first.",
    "outside_limit": "Allowed here: {allowed}. {why}",
    "time_zone": "No such time zone. Write it like Europe/Dublin.",
    "in_future": "This date lies in the future. Enter the day on which it happened.",
    "before_test": "The due date lies before the test date. Check both.",
    "no_date": "This kind of equipment needs the date of its last test.",
    "due_too_late": "At the latest {day} ({source}). An earlier day may be entered.",
    "file_too_large": "The file is larger than {limit_mb} MB. Send a smaller one.",
    "file_empty": "The file is empty. Choose it again.",
    "file_cut_off": "This PDF is cut off. Send it again.",
    "file_too_many_pixels": "The picture has too many pixels. Take it again, smaller.",
    "file_no_certificate": "This file is neither a PDF nor a JPEG or PNG picture.",
    "file_no_picture": "This file is no JPEG, PNG or WebP picture that can be read.",
    "file_again": "The tablet was locked: choose the file again, or save without one.",
    "still_here": "{name} works here. First say that this has ended, then erase.",
    "erased": "The personal data of this person are erased; nobody can be put back in their place.",
    "device_name_taken": "Another device is called {name}. Choose another name.",
    "device_here_first": "Enrol this device first, or you would shut yourself out.",
    "code_wrong": "This code takes nothing in: it is wrong, used or too old. Ask for a new one.",
    "code_locked": "Too many wrong codes or PINs from here. Wait a while.",
    "open_job": "Job {number} of this customer is open. Close it first.",
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


class NotAllowed(Refused):
    """The person may not do that."""


class Conflict(Refused):
    """Somebody else was first, or the register has changed since."""
