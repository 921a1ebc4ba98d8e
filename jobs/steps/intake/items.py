"""What intake asks: who brought what, what it does, how dangerous it is, and on whose authority.

VIN, plate and customer belong to the shop's registers; here they are only compared and agreed.
Not here: what the answers mean (`assessment`), what blocks (`gate`).
"""

from typing import Any

from jobs.core.entry import Entry
from jobs.core.item import (
    Choice,
    Item,
    bounded,
    choice,
    drawn,
    personal,
    photo,
    reading,
    signature,
    text,
    tick,
)
from jobs.core.once import once_a_record
from jobs.core.quotation import MONEY
from jobs.core.record import Record

_DESK = ("front_desk", "technician", "manager")
_ARRIVAL, _IDENTITY, _TOLD = "What arrived", "Identity", "What the customer told us"
_SHOWN = "What the vehicle shows"
_DANGER, _AUTHORITY = "Danger", "Authority"

VEHICLE, PACK_ALONE = "vehicle", "pack_alone"
NO_DANGER, ACUTE, WATCH = "none", "acute", "watch"

ARRIVED = choice(
    "intake.arrived",
    "What arrived",
    (Choice(VEHICLE, "A vehicle"), Choice(PACK_ALONE, "A pack alone, without its vehicle")),
    group=_ARRIVAL,
    by=_DESK,
)
TRIAGE = choice(
    "intake.triage",
    "Signs of danger, looked for by a technician",
    (
        Choice(NO_DANGER, "None of these"),
        Choice(ACUTE, "Smoke, hissing, smell or heat"),
        Choice(WATCH, "Swelling, fluid, flood or crash"),
    ),
    group=_DANGER,
    help="Before it comes indoors. Once a sign is recorded, a qualified person has to release it.",
)
WATCH_PLACE = text(
    "intake.watch_place",
    "Outdoor place and who watches it",
    group=_DANGER,
    help="Away from buildings and other vehicles, reachable for the fire brigade.",
)
WATCH_RELEASE = signature(
    "intake.watch_release",
    "Released from the outdoor watch",
    group=_DANGER,
    help="By a person qualified for live work or for release, who has looked at it now.",
)
STANDS = text("intake.stands", "Where it stands", group=_ARRIVAL, by=_DESK)
KEYS = text(
    "intake.keys",
    "Where its keys are",
    group=_ARRIVAL,
    by=_DESK,
    help="All of them; a wireless key counts too.",
)
IDENTITY = tick(
    "intake.identity", "VIN and plate compared with the vehicle", group=_IDENTITY, by=_DESK
)
VIN = text(
    "intake.vin",
    "VIN as it stands on the vehicle",
    group=_IDENTITY,
    by=_DESK,
    help="17 characters without I, O and Q; short frame numbers of imports are taken too.",
)
PACK_SERIAL = text(
    "intake.pack_serial", "Serial number on the pack's label", group=_IDENTITY, by=_DESK
)
CONSENT = tick(
    "intake.consent",
    "Customer agrees that we keep name, contact and what was said for this job",
    group=_TOLD,
    by=_DESK,
)
COMPLAINT = personal(
    "intake.complaint", "Complaint, in the customer's own words", group=_TOLD, by=_DESK
)
WARNING_LAMPS = text(
    "intake.warning_lamps",
    "Warning lamps and messages",
    group=_SHOWN,
    by=_DESK,
    help="Write “none” when there are none.",
)
TROUBLE_CODES = text(
    "intake.trouble_codes",
    "Trouble codes, read before the 12 V supply goes off",
    group=_SHOWN,
    by=_DESK,
    help="All of them, stored ones too. Write “none”, or why they cannot be read.",
)
OWN_ISOLATION = bounded(
    "intake.own_isolation_ohm",
    "Isolation resistance that the vehicle itself shows",
    unit="ohm",
    low=0,
    high=1e10,
    needed=False,
    group=_SHOWN,
    by=_DESK,
)
ODOMETER = reading(
    "intake.odometer_km", "Odometer", unit="km", low=0, high=3e6, group=_SHOWN, by=_DESK
)
CHARGE_SHOWN = reading(
    "intake.charge_percent",
    "Charge shown",
    unit="percent",
    low=0,
    high=100,
    needed=False,
    group=_SHOWN,
    by=_DESK,
    help="Leave it out when the vehicle shows none.",
)


def _history(key: str, label: str) -> Item[str]:
    known = (Choice("no", "No"), Choice("yes", "Yes"), Choice("not_known", "Not known"))
    return choice(f"intake.{key}", label, known, group="History", by=_DESK)


CRASH = _history("crash", "Has it been in a crash?")
FLOOD = _history("flood", "Has it stood in water?")
EARLIER_REPAIR = _history("earlier_repair", "Was the high-voltage system repaired before?")
RECALL = _history("recall", "Is a recall open?")
WARRANTY = _history("warranty", "Does a warranty cover it?")
INSURER = personal(
    "intake.insurer", "Insurer and claim number", needed=False, group="History", by=_DESK
)
PHOTOS = photo(
    "intake.arrival_photo", "Photos on arrival", many="free", needed=False, group=_ARRIVAL, by=_DESK
)
PRICE_CAP = reading(
    "intake.price_cap",
    "Price cap for the diagnosis",
    unit=MONEY,
    low=0,
    high=1e6,
    group=_AUTHORITY,
    by=_DESK,
    help="Nothing beyond it is done without asking.",
)
AUTHORITY = drawn(
    "intake.authority",
    "Customer's signature: authority for the diagnosis up to the price cap",
    group=_AUTHORITY,
    by=_DESK,
    help="After the price cap is entered. Signed in the field, or say how it was given.",
)

HISTORY = (CRASH, FLOOD, EARLIER_REPAIR, RECALL, WARRANTY)
_VEHICLE_ONLY = (KEYS, IDENTITY, VIN, WARNING_LAMPS, TROUBLE_CODES, OWN_ISOLATION, ODOMETER)


def pack_alone(record: Record) -> bool:
    """Tell whether a pack arrived without its vehicle."""
    return record.get(ARRIVED) == PACK_ALONE


def dangers(record: Record) -> tuple[Entry, ...]:
    """Give every sign of danger that was ever recorded, oldest first.

    Notes
    -----
    Struck answers count, so that striking one does not stand in for the release.
    """
    signs = {ACUTE, WATCH}
    return tuple(e for e in record.entries if e.item == TRIAGE.key and e.value in signs)


@once_a_record
def items(record: Record) -> tuple[Item[Any], ...]:
    """Give what intake asks now, in the order in which it is asked."""
    asked: tuple[Item[Any], ...] = (ARRIVED, TRIAGE)
    signs = {entry.value for entry in dangers(record)}
    if signs:
        asked = (*asked, *((WATCH_PLACE,) if WATCH in signs else ()), WATCH_RELEASE)
    asked = (*asked, STANDS, KEYS, PHOTOS, IDENTITY, VIN, PACK_SERIAL, CONSENT, COMPLAINT)
    asked = (*asked, WARNING_LAMPS, TROUBLE_CODES, OWN_ISOLATION, ODOMETER, CHARGE_SHOWN)
    asked = (*asked, *HISTORY, INSURER, PRICE_CAP, AUTHORITY)
    left_out = _VEHICLE_ONLY if pack_alone(record) else (PACK_SERIAL,)
    return tuple(item for item in asked if item not in left_out)
