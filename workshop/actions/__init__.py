"""The one writer of the shop's registers: first the check, then the write, in one transaction.

Every action names who does it (``by``, a person's identifier) and refuses with the errors of
``workshop.errors``. Reading is ``workshop.queries``.
"""

from workshop.actions.customers import (
    add_customer,
    add_vehicle,
    change_customer,
    change_vehicle,
    enter_vehicle,
    erase_customer,
    move_vehicle,
)
from workshop.actions.devices import (
    NewCode,
    enrol,
    enrol_here,
    let_only_enrolled,
    make_device_code,
    note_device_seen,
    revoke_device,
)
from workshop.actions.equipment import (
    add_equipment,
    correct_equipment,
    count_torque_cycles,
    record_test,
    withdraw_equipment,
)
from workshop.actions.people import (
    add_person,
    change_person,
    clear_pin,
    create_first_manager,
    erase_person,
    remove_qualification,
    retire_person,
    return_person,
    set_language,
    set_qualification,
)
from workshop.actions.pin import (
    PinResult,
    ask_office_password,
    check_password,
    check_pin,
    clear_password,
    set_password,
    set_pin,
    unlock_pin,
)
from workshop.actions.shop import reset_limit, set_limit, set_logo, update_shop
from workshop.actions.sign_ins import end_session
from workshop.actions.sign_ins import note_of as note_sign_in

__all__ = [
    "NewCode",
    "PinResult",
    "add_customer",
    "add_equipment",
    "add_person",
    "add_vehicle",
    "ask_office_password",
    "change_customer",
    "change_person",
    "change_vehicle",
    "check_password",
    "check_pin",
    "clear_password",
    "clear_pin",
    "correct_equipment",
    "count_torque_cycles",
    "create_first_manager",
    "end_session",
    "enrol",
    "enrol_here",
    "enter_vehicle",
    "erase_customer",
    "erase_person",
    "let_only_enrolled",
    "make_device_code",
    "move_vehicle",
    "note_device_seen",
    "note_sign_in",
    "record_test",
    "remove_qualification",
    "reset_limit",
    "retire_person",
    "return_person",
    "revoke_device",
    "set_language",
    "set_limit",
    "set_logo",
    "set_password",
    "set_pin",
    "set_qualification",
    "unlock_pin",
    "update_shop",
    "withdraw_equipment",
]
