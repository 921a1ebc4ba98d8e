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
    remove_qualification,
    retire_person,
    return_person,
    set_qualification,
)
from workshop.actions.pin import PinResult, check_pin, set_pin, unlock_pin
from workshop.actions.shop import set_limit, update_shop

__all__ = [
    "PinResult",
    "add_customer",
    "add_equipment",
    "add_person",
    "add_vehicle",
    "change_customer",
    "change_person",
    "change_vehicle",
    "check_pin",
    "clear_pin",
    "correct_equipment",
    "count_torque_cycles",
    "create_first_manager",
    "enter_vehicle",
    "erase_customer",
    "move_vehicle",
    "record_test",
    "remove_qualification",
    "retire_person",
    "return_person",
    "set_limit",
    "set_pin",
    "set_qualification",
    "unlock_pin",
    "update_shop",
    "withdraw_equipment",
]
