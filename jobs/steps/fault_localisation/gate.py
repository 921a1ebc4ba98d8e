"""What stands against opening the pack, opening a link, and signing the fault localisation.

Not here: which module leaks and what confirms it (`assessment`).
"""

from dataclasses import replace

from jobs.core import leak_search, quote_answer, quote_growth
from jobs.core.leak_search import reading_blockers
from jobs.core.quote_answer import answer_blockers
from jobs.core.quote_growth import OVER_CAP, growth_blockers, over_cap
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Record
from jobs.core.step import Hold
from jobs.steps.de_energise_check.gate import live_work_blockers
from jobs.steps.fault_localisation.assessment import Localisation
from jobs.steps.fault_localisation.items import (
    ANSWER,
    BILLED,
    CHARGE_PERCENT,
    CUT_DEPTH_MM,
    LEAKING,
    LID_BACK,
    LID_HOLD,
    LID_OFF,
    LINK_HOLD,
    LINK_OPENED,
    LIVE,
    MODULE_OHM,
    MODULE_TESTER,
    OTHER_OHM,
    QUOTE,
    READING,
    SEEN,
    SENSE_OFF,
    STOP,
    TABLE,
    answered,
    before_lid,
    pack_leaks,
    stopped,
)
from jobs.steps.intake.items import PRICE_CAP
from jobs.steps.isolation_readings.gate import instrument_blockers
from jobs.steps.isolation_readings.items import PACK

NOT_APPROVED = Reason(
    "localise_not_approved", "The customer has to approve the quotation before the lid comes off."
)
TABLE_DATE = Reason("localise_table_date", "{label} may not be used: its date has passed.")
TABLE_RATING = Reason(
    "localise_table_rating",
    "{label} bears {max_kg:.0f} kg; this pack weighs {mass_kg:.0f} kg. Take another table.",
)
CHARGE = Reason(
    "localise_charge",
    "Charge {percent:.0f} % is above the {limit:.0f} % at which this pack may be opened. Bring it "
    "down first, or, where this is the shop's own limit, let a manager accept it with a reason.",
    countersign=True,
)
NOT_SERVICEABLE = Reason(
    "localise_lid_not_serviceable",
    "The definition says that this lid cannot be opened and closed again. Stop the work here.",
)
CUT_DEPTH = Reason(
    "localise_cut_depth",
    "Cutting depth {depth_mm:.1f} mm is more than {limit_mm:.1f} mm. Set the tool again.",
)
LID_STILL_ON = Reason("localise_lid_on", "The lid has to be off before a link can be opened.")


NOT_NAMED = Reason("localise_not_named", "No module is named yet. Take one of the next readings.")
NOT_CONFIRMED = Reason(
    "localise_not_confirmed",
    "{modules}: not confirmed by a second kind of reading. Open the links on both sides and read, "
    "or read each module's insulation by itself.",
)
CONTRADICTS = Reason(
    "localise_contradicts", "Ticked: {ticked}. The readings name: {named}. Strike one of them."
)
PEERS_CONTRADICT = Reason(
    "localise_peers_contradict",
    "The modules' own insulation points at {suspect}, the readings at {named}. Take both again.",
)
NOTHING_AND_MORE = Reason(
    "localise_nothing_and_more", "“Nothing” and something else were seen. Strike one of them."
)
OTHER_NOT_CONFIRMED = Reason(
    "localise_other_not_confirmed",
    "That part by itself keeps the limit, so it does not explain the leak. Look further.",
)
OTHER_MODULES = Reason(
    "localise_other_modules",
    "Before another part is blamed, read the insulation of every module: all have to be sound.",
)
TESTER_DATE = Reason("localise_tester_date", "{label} may not be used: its date has passed.")
LID_OPEN = Reason("localise_lid_open", "The lid is off. Close or cap the pack, then tick it.")
_OVER_CAP_BEFORE = Reason(
    "localise_over_cap", "{billed:.2f} is above the price cap of {cap:.2f} that was agreed."
)
"""No longer given; kept so that a refusal stored before can still be said."""
REASONS = (
    *leak_search.REASONS,
    *quote_answer.REASONS,
    *quote_growth.REASONS,
    NOT_APPROVED,
    TABLE_DATE,
    TABLE_RATING,
    CHARGE,
    NOT_SERVICEABLE,
    CUT_DEPTH,
    LID_STILL_ON,
    NOT_NAMED,
    NOT_CONFIRMED,
    CONTRADICTS,
    PEERS_CONTRADICT,
    NOTHING_AND_MORE,
    OTHER_NOT_CONFIRMED,
    OTHER_MODULES,
    TESTER_DATE,
    LID_OPEN,
    OVER_CAP,
    _OVER_CAP_BEFORE,
)


def _table(record: Record) -> list[Blocker]:
    table, found = record.get(TABLE), list[Blocker]()
    if table is None or record.pack is None:
        return []
    if not table.in_date(record.now.date()):
        found.append(TABLE_DATE(TABLE.key, label=table.label))
    max_kg, mass_kg = table.number("max_kg"), record.pack.mass_kg.value
    if max_kg < mass_kg:
        found.append(TABLE_RATING(TABLE.key, label=table.label, max_kg=max_kg, mass_kg=mass_kg))
    return found


def _lid(record: Record) -> list[Blocker]:
    """Say what in charge, lid and cutting depth stands against opening."""
    pack, found = record.pack, list[Blocker]()
    if pack is None:
        return []
    percent, depth_mm = record.get(CHARGE_PERCENT), record.get(CUT_DEPTH_MM)
    limit = pack.open_charge_limit_percent
    if percent is not None and percent > limit.value:
        above = CHARGE(CHARGE_PERCENT.key, percent=percent, limit=limit.value)
        found.append(replace(above, countersign=limit.kind == "shop_default"))
    if pack.lid.kind == "not_serviceable":
        found.append(NOT_SERVICEABLE(STOP.key))
    deepest = pack.lid.cutting_depth_mm
    if deepest is not None and depth_mm is not None and depth_mm > deepest.value:
        found.append(CUT_DEPTH(CUT_DEPTH_MM.key, depth_mm=depth_mm, limit_mm=deepest.value))
    return found


def _approval(record: Record) -> list[Blocker]:
    """Ask for the customer's approval of the quotation in force, for all that it came to."""
    old = [*answer_blockers(record, QUOTE), *growth_blockers(record, QUOTE, PRICE_CAP)]
    return old if old or answered(record) == "approved" else [NOT_APPROVED(ANSWER.key)]


def holds(record: Record, _found: Localisation) -> tuple[Hold, ...]:
    """Give the hold points before the lid comes off and before a link opens."""
    if not pack_leaks(record) or stopped(record):
        return ()
    live_h = record.limits.live_work_h.value
    live = (*live_work_blockers(record, LIVE), *instrument_blockers(record, PACK))
    lid = Hold(
        slug=LID_HOLD,
        act="the lid comes off",
        needs=before_lid(record),
        blockers=(
            *_approval(record),
            *live,
            *_table(record),
            *_lid(record),
        ),
        valid_h=live_h,
        cautions=(
            "Under the lid live parts cannot be switched off. Nothing metal loose, nobody alone.",
            "Liquid, smell, heat or hissing: stop, step back, everybody out.",
        ),
    )
    link = Hold(
        slug=LINK_HOLD,
        act="a link opens",
        needs=(LID_OFF, SENSE_OFF),
        blockers=(
            *_approval(record),
            *(() if record.pack_open else (LID_STILL_ON(LID_OFF.key),)),
            *live,
        ),
        valid_h=live_h,
        cautions=("Sense leads off first. One link at a time, both ends covered at once.",),
    )
    return (lid, link)


def _modules(a: Localisation) -> list[Blocker]:
    """Ask for a module that is named, confirmed, and the one that is ticked."""
    if not a.search.named:
        return [NOT_NAMED(READING.key)]
    named, found = ", ".join(a.search.named), list[Blocker]()
    if not a.confirmed_by:
        found.append(NOT_CONFIRMED(MODULE_OHM.key, modules=named))
    if a.leaking and set(a.leaking) != set(a.search.named):
        found.append(CONTRADICTS(LEAKING.key, ticked=", ".join(a.leaking), named=named))
    if (
        a.peers.suspect
        and a.peers.suspect not in a.search.named
        and "insulation" not in a.confirmed_by
    ):
        found.append(PEERS_CONTRADICT(MODULE_OHM.key, suspect=a.peers.suspect, named=named))
    return found


def _other(record: Record, a: Localisation) -> list[Blocker]:
    """Ask for the proof that something else than a module leaks."""
    found = [] if a.peers.sound else [OTHER_MODULES(MODULE_OHM.key)]
    if record.has(OTHER_OHM) and not a.other_leaks:
        found.append(OTHER_NOT_CONFIRMED(OTHER_OHM.key))
    return found


def _stopped(record: Record) -> tuple[Blocker, ...]:
    found = [LID_OPEN(LID_BACK.key)] if record.pack_open and record.has(LID_BACK) else []
    return (*found, *over_cap(record, BILLED, PRICE_CAP))


def _seen(record: Record) -> list[Blocker]:
    seen = {given.part("what") for given in record.all(SEEN)}
    return [NOTHING_AND_MORE(SEEN.key)] if "nothing" in seen and len(seen) > 1 else []


def blockers(record: Record, a: Localisation) -> tuple[Blocker, ...]:
    """Say what blocks the signature beyond missing items."""
    if stopped(record):
        return _stopped(record)
    found: list[Blocker] = answer_blockers(record, QUOTE)
    found += growth_blockers(record, QUOTE, PRICE_CAP)
    tester = record.get(MODULE_TESTER)
    if tester is not None and not tester.in_date(record.now.date()):
        found.append(TESTER_DATE(MODULE_TESTER.key, label=tester.label))
    if pack_leaks(record) and record.has(LID_OFF):
        found += [*_seen(record), *reading_blockers(a.search, READING.key, LINK_OPENED.key)]
        found += _modules(a) if a.outcome == "module" else []
        found += _other(record, a) if a.outcome == "pack_not_module" else []
    return tuple(found)


def ends(record: Record) -> str:
    """Say that the job ends here when the customer declined or the lid cannot be opened."""
    return "declined" if stopped(record) else ""
