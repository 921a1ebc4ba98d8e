"""The one reader of the shop's registers: frozen data out, never rows.

Identifiers are text outside the database. A snapshot is what an entry of a job keeps, so it
holds no name. Nothing here writes; see ``workshop.actions``.
"""

from workshop.queries.customer_rows import (
    Found,
    customer,
    customer_names,
    customers,
    customers_page,
    find,
    vehicle,
    vehicles,
    vehicles_like,
    vehicles_of,
    vehicles_page,
)
from workshop.queries.device_rows import (
    DeviceInfo,
    device,
    device_of_token,
    devices,
    token_digest,
)
from workshop.queries.equipment_rows import (
    all_equipment,
    equipment_of_kind,
    equipment_piece,
    equipment_snapshot,
)
from workshop.queries.events import certificate_of, history, history_digest
from workshop.queries.identifiers import LIST_LENGTH, NIL, SEARCH_LENGTH, Id, uuid_of
from workshop.queries.person_rows import (
    has_people,
    names,
    password_hash,
    people,
    person,
    person_of_session,
    person_snapshot,
    session_mark,
)
from workshop.queries.shop_row import language_for, limits, local_day, logo_bytes, shop
from workshop.queries.sign_in_rows import (
    OpenSession,
    SignInInfo,
    open_sessions,
    session_keys,
    sign_in_digest,
    sign_in_end,
    sign_in_faults,
    sign_ins,
)
from workshop.queries.slices import Slice, page_number

__all__ = [
    "LIST_LENGTH",
    "NIL",
    "SEARCH_LENGTH",
    "DeviceInfo",
    "Found",
    "Id",
    "OpenSession",
    "SignInInfo",
    "Slice",
    "all_equipment",
    "certificate_of",
    "customer",
    "customer_names",
    "customers",
    "customers_page",
    "device",
    "device_of_token",
    "devices",
    "equipment_of_kind",
    "equipment_piece",
    "equipment_snapshot",
    "find",
    "has_people",
    "history",
    "history_digest",
    "language_for",
    "limits",
    "local_day",
    "logo_bytes",
    "names",
    "open_sessions",
    "page_number",
    "password_hash",
    "people",
    "person",
    "person_of_session",
    "person_snapshot",
    "session_keys",
    "session_mark",
    "shop",
    "sign_in_digest",
    "sign_in_end",
    "sign_in_faults",
    "sign_ins",
    "token_digest",
    "uuid_of",
    "vehicle",
    "vehicles",
    "vehicles_like",
    "vehicles_of",
    "vehicles_page",
]
