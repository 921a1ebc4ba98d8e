"""Who may ask what: each address of the project with its methods and the roles it is for.

This is the declaration; ``test_who_may.py`` asks every address by every method as everybody and
holds the answers against it. An address that is not here fails there.
"""

from dataclasses import dataclass
from typing import Final

from workshop.people import FRONT_DESK, MANAGER, TECHNICIAN

__all__ = ["METHODS", "OFFICE", "TABLE", "Row"]

OFFICE: Final = frozenset(
    {
        *("jobs:accounting_file", "jobs:customer_erase", "jobs:disposals_csv"),
        *("jobs:job_accounting", "jobs:person_erase", "jobs:week_csv"),
        *("shop:backup_file", "shop:backup_key", "shop:backup_now", "shop:backups"),
        *("shop:device", "shop:device_code", "shop:device_here", "shop:devices"),
        *("shop:devices_only", "shop:limit", "shop:limit_reset", "shop:logo_clear"),
        *("shop:logo_set", "shop:office_switch", "shop:people", "shop:person", "shop:person_add"),
        *("shop:person_certificate", "shop:person_change", "shop:person_password_clear"),
        *("shop:person_pin", "shop:person_pin_clear", "shop:person_retire", "shop:person_return"),
        *("shop:person_unlock", "shop:qualification_remove", "shop:settings", "shop:sign_ins"),
    }
)
"""What asks for the password where the shop wants it; all others do not."""

METHODS: Final = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")

MANAGERS: Final = frozenset({MANAGER})
DESK: Final = frozenset({FRONT_DESK, MANAGER})
FLOOR: Final = frozenset({TECHNICIAN, MANAGER})
EVERYBODY: Final = frozenset({FRONT_DESK, TECHNICIAN, MANAGER})
ANYBODY: Final = EVERYBODY | {""}
"""Also nobody signed on, somebody who left, and whom idling locked."""


@dataclass(frozen=True, slots=True)
class Row:
    """One address.

    Attributes
    ----------
    methods : str
        Those it knows, with spaces between; any other is answered 405.
    roles : frozenset[str]
        Whom it serves; "" is nobody signed on.
    asks : str
        How it asks who is there: "page" leads to the sign-on, "json" says 401.
    """

    methods: str
    roles: frozenset[str]
    asks: str = "page"


TABLE: Final = {
    "jobs:accounting": Row("GET", DESK),
    "jobs:accounting_file": Row("GET", DESK),
    "jobs:app_manifest": Row("GET", ANYBODY),
    "jobs:attachment": Row("GET", EVERYBODY),
    "jobs:book": Row("GET POST", EVERYBODY),
    "jobs:customer_erase": Row("GET POST", MANAGERS),
    "jobs:customer_jobs": Row("GET", DESK),
    "jobs:desk": Row("GET", EVERYBODY),
    "jobs:desk_act": Row("POST", EVERYBODY),
    "jobs:desk_settle": Row("POST", EVERYBODY),
    "jobs:disposal": Row("GET POST", EVERYBODY),
    "jobs:disposals": Row("GET", EVERYBODY),
    "jobs:disposals_csv": Row("GET", DESK),
    "jobs:due_list_pdf": Row("GET", EVERYBODY),
    "jobs:entries": Row("POST", EVERYBODY, asks="json"),
    "jobs:equipment_correct": Row("GET POST", MANAGERS),
    "jobs:find": Row("GET", EVERYBODY),
    "jobs:hand_over": Row("GET POST", EVERYBODY),
    "jobs:head": Row("GET", EVERYBODY),
    "jobs:job": Row("GET", EVERYBODY),
    "jobs:job_accounting": Row("GET", DESK),
    "jobs:log": Row("GET POST", EVERYBODY),
    "jobs:log_columns": Row("GET POST", EVERYBODY),
    "jobs:message": Row("GET POST", EVERYBODY),
    "jobs:not_reachable": Row("GET", ANYBODY),
    "jobs:open_jobs": Row("GET", EVERYBODY),
    "jobs:person_erase": Row("GET POST", MANAGERS),
    "jobs:photo": Row("POST", EVERYBODY, asks="json"),
    "jobs:practice": Row("GET", EVERYBODY),
    "jobs:practice_begin": Row("POST", EVERYBODY),
    "jobs:practice_bench": Row("GET", EVERYBODY),
    "jobs:practice_cards": Row("GET", EVERYBODY),
    "jobs:practice_end": Row("POST", EVERYBODY),
    "jobs:practice_hint": Row("POST", EVERYBODY),
    "jobs:practice_look": Row("POST", EVERYBODY),
    "jobs:practice_read": Row("POST", EVERYBODY),
    "jobs:practice_result": Row("GET", EVERYBODY),
    "jobs:practice_take": Row("POST", EVERYBODY),
    "jobs:practice_time": Row("POST", EVERYBODY),
    "jobs:quarantine": Row("GET", EVERYBODY),
    "jobs:quotation": Row("GET", EVERYBODY),
    "jobs:reading": Row("GET", EVERYBODY),
    "jobs:receipt": Row("GET", EVERYBODY),
    "jobs:record": Row("GET", EVERYBODY),
    "jobs:record_pdf": Row("GET", EVERYBODY),
    "jobs:report": Row("GET", EVERYBODY),
    "jobs:scanned": Row("GET", EVERYBODY),
    "jobs:set_aside": Row("GET POST", MANAGERS),
    "jobs:settling": Row("GET", EVERYBODY),
    "jobs:sheet": Row("GET", EVERYBODY),
    "jobs:step": Row("GET", EVERYBODY),
    "jobs:tablet": Row("GET HEAD POST", ANYBODY),
    "jobs:tablet_state": Row("GET", ANYBODY),
    "jobs:tablets": Row("GET", EVERYBODY),
    "jobs:timeline": Row("GET", EVERYBODY),
    "jobs:today": Row("GET", EVERYBODY),
    "jobs:vehicle_jobs": Row("GET", DESK),
    "jobs:watch": Row("GET", EVERYBODY),
    "jobs:watch_check": Row("POST", EVERYBODY),
    "jobs:watch_end": Row("POST", EVERYBODY),
    "jobs:week": Row("GET", DESK),
    "jobs:week_csv": Row("GET", DESK),
    "jobs:withdraw": Row("GET POST", FLOOR),
    "jobs:worker": Row("GET", ANYBODY),
    "packs:add_spare": Row("GET POST", FLOOR),
    "packs:add_unit": Row("GET POST", FLOOR),
    "packs:compare": Row("GET", EVERYBODY),
    "packs:correct_unit": Row("GET POST", FLOOR),
    "packs:discard_draft": Row("POST", MANAGERS),
    "packs:draft": Row("GET", EVERYBODY),
    "packs:draft_file": Row("GET", EVERYBODY),
    "packs:draft_section": Row("GET POST", MANAGERS),
    "packs:file": Row("GET", EVERYBODY),
    "packs:move_spare": Row("GET POST", FLOOR),
    "packs:open_revision": Row("POST", MANAGERS),
    "packs:pack": Row("GET", EVERYBODY),
    "packs:packs": Row("GET", EVERYBODY),
    "packs:publish_draft": Row("GET POST", MANAGERS),
    "packs:removed_modules": Row("GET", FLOOR),
    "packs:revision": Row("GET", EVERYBODY),
    "packs:section_picture": Row("POST", MANAGERS),
    "packs:spare": Row("GET", EVERYBODY),
    "packs:spares": Row("GET", EVERYBODY),
    "packs:start_draft": Row("GET POST", MANAGERS),
    "packs:start_picture": Row("POST", MANAGERS),
    "packs:test_spare": Row("GET POST", FLOOR),
    "packs:unit": Row("GET", EVERYBODY),
    "packs:units": Row("GET", EVERYBODY),
    "packs:upload": Row("GET POST", MANAGERS),
    "packs:withdraw": Row("POST", MANAGERS),
    "shop:backup_file": Row("GET", MANAGERS),
    "shop:backup_key": Row("GET", MANAGERS),
    "shop:backup_now": Row("POST", MANAGERS),
    "shop:backups": Row("GET", MANAGERS),
    "shop:customer": Row("GET", DESK),
    "shop:customer_add": Row("GET POST", DESK),
    "shop:customer_change": Row("GET POST", DESK),
    "shop:customers": Row("GET", DESK),
    "shop:device": Row("GET POST", MANAGERS),
    "shop:device_code": Row("POST", MANAGERS),
    "shop:device_here": Row("POST", MANAGERS),
    "shop:devices": Row("GET", MANAGERS),
    "shop:devices_only": Row("POST", MANAGERS),
    "shop:enrol": Row("GET POST", ANYBODY),
    "shop:equipment": Row("GET", EVERYBODY),
    "shop:equipment_add": Row("GET POST", MANAGERS),
    "shop:equipment_certificate": Row("GET", EVERYBODY),
    "shop:equipment_due": Row("GET", EVERYBODY),
    "shop:equipment_piece": Row("GET", EVERYBODY),
    "shop:equipment_test": Row("GET POST", MANAGERS),
    "shop:first_run": Row("GET POST", ANYBODY),
    "shop:limit": Row("GET POST", MANAGERS),
    "shop:limit_reset": Row("POST", MANAGERS),
    "shop:logo": Row("GET", ANYBODY),
    "shop:logo_clear": Row("POST", MANAGERS),
    "shop:logo_set": Row("POST", MANAGERS),
    "shop:own_language": Row("POST", EVERYBODY),
    "shop:office_switch": Row("POST", MANAGERS),
    "shop:own_password": Row("GET POST", DESK),
    "shop:own_pin": Row("GET POST", EVERYBODY),
    "shop:password": Row("POST", DESK),
    "shop:people": Row("GET", MANAGERS),
    "shop:person": Row("GET POST", MANAGERS),
    "shop:person_add": Row("GET POST", MANAGERS),
    "shop:person_certificate": Row("GET", MANAGERS),
    "shop:person_change": Row("GET POST", MANAGERS),
    "shop:person_password_clear": Row("POST", MANAGERS),
    "shop:person_pin": Row("GET POST", MANAGERS),
    "shop:person_pin_clear": Row("GET POST", MANAGERS),
    "shop:person_retire": Row("GET POST", MANAGERS),
    "shop:person_return": Row("GET POST", MANAGERS),
    "shop:person_unlock": Row("POST", MANAGERS),
    "shop:qualification_remove": Row("GET POST", MANAGERS),
    "shop:session_end": Row("POST", EVERYBODY),
    "shop:sessions": Row("GET", EVERYBODY),
    "shop:settings": Row("GET POST", MANAGERS),
    "shop:sign_ins": Row("GET", MANAGERS),
    "shop:sign_off": Row("POST", ANYBODY),
    "shop:sign_on": Row("GET", ANYBODY),
    "shop:sign_on_person": Row("GET POST", ANYBODY),
    "shop:vehicle": Row("GET", DESK),
    "shop:vehicle_add": Row("GET POST", DESK),
    "shop:vehicle_change": Row("GET POST", DESK),
    "shop:vehicle_owner": Row("GET POST", DESK),
    "shop:vehicles": Row("GET", DESK),
    "start": Row("GET", ANYBODY),
    "start_certificate": Row("GET", ANYBODY),
    "start_plain": Row("POST", ANYBODY),
}
