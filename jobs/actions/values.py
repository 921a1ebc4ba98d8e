"""Entering a value and striking one."""

import secrets
import uuid
from typing import Any

from jobs.actions.context import Act, Allowed, Refused
from jobs.actions.logs import take_log
from jobs.core.entering import enter_gate, row_gate, strike_gate
from jobs.core.entry import Json
from jobs.core.item import Item, Shape, effect_of
from jobs.core.leak_history import NO_HISTORY
from jobs.core.order import find_item
from jobs.core.parsing import parse
from jobs.core.quotation_input import CURRENCY, PAST
from jobs.core.reason import InputRefused, Reason
from jobs.core.refusals import UNKNOWN
from jobs.core.seal import sealed, text_hash
from jobs.models import Attachment, PersonalDatum
from jobs.queries import practice_shelf as shelf
from jobs.queries.leak_history import leaks_of
from jobs.steps import STEPS
from jobs.steps.fault_localisation.items import HISTORY
from packs import errors as pack_errors
from packs import queries as packs
from workshop import errors as shop_errors
from workshop import queries as shop

__all__ = ["REASONS", "keep_personal", "strike", "take_value"]

NO_SUCH_PICK = Reason("no_such_pick", "It is not in the register any more. Pick again.")
WRONG_KIND = Reason("wrong_kind_picked", "This is not the kind of equipment asked for here.")
NO_ATTACHMENT = Reason("no_attachment", "The picture has not arrived. Send it again.")
NO_REASON = Reason("reason_needed", "Say why, in a few words.")

REASONS = (NO_SUCH_PICK, WRONG_KIND, NO_ATTACHMENT, NO_REASON, NO_HISTORY)


def keep_personal(act: Act, item_key: str, text: str) -> Json:
    """Keep words about a person where they can be erased; give what stands in the entry."""
    salt = secrets.token_hex(16)
    datum = PersonalDatum.objects.create(
        job=act.job, item=item_key, text=text, salt=salt, sha256=text_hash(salt, text)
    )
    return {"ref": str(datum.ref), "sha256": datum.sha256}


def _known(found: Json | None) -> Json:
    """Give what the practice bench has; refuse what it has not."""
    if found is None:
        raise shop_errors.InputRefused("unknown", field="practice")
    return found


def _equipment(act: Act, item: Item[Any], parsed: Json) -> Json:
    opening = shelf.opening_of(act.record)
    if opening is None:
        snapshot = shop.equipment_snapshot(parsed["id"], act.now)
    else:
        today = shop.local_day(act.now)
        snapshot = _known(shelf.snapshot_of_piece(opening, parsed["id"], today))
    if snapshot["kind"] not in item.kinds:
        raise InputRefused(WRONG_KIND(item.key))
    return sealed(snapshot)


def _person(act: Act, _item: Item[Any], parsed: Json) -> Json:
    if shelf.opening_of(act.record) is not None:
        person = shelf.colleague(parsed["id"]) or shop.person(parsed["id"])
        return _known(None if person is None else shelf.snapshot_of_person(person))
    return shop.person_snapshot(parsed["id"], shop.local_day(act.now))


def _spare(act: Act, _item: Item[Any], parsed: Json) -> Json:
    opening, pack = shelf.opening_of(act.record), act.record.pack
    if opening is not None:
        found = shelf.snapshot_of_spare(opening, pack, parsed["id"], act.record.now)
        return sealed(_known(found))
    return sealed(packs.spare_snapshot(uuid.UUID(parsed["id"]), act.record.now))


def _signature(act: Act, _item: Item[Any], _parsed: Json) -> Json:
    return act.by_snapshot


def _personal(act: Act, item: Item[Any], parsed: Json) -> Json:
    return keep_personal(act, item.key, parsed)


def _photo(act: Act, item: Item[Any], parsed: Json) -> Json:
    if not Attachment.objects.filter(job=act.job, sha256=parsed["sha256"]).exists():
        raise InputRefused(NO_ATTACHMENT(item.key))
    return parsed


def _quotation(act: Act, item: Item[Any], parsed: Json) -> Json:
    """Put the shop's currency in; a quotation that nobody could accept any more is refused."""
    currency = shop.shop().currency
    if parsed["currency"] not in {"", currency}:
        raise InputRefused(CURRENCY(item.key, currency=currency))
    until = parsed["valid_until"]
    if until and until < shop.local_day(act.now).isoformat():
        raise InputRefused(PAST(item.key))
    return {**parsed, "currency": currency}


def _log(act: Act, _item: Item[Any], parsed: Json) -> Json:
    return take_log(act, parsed)


_FILL = {
    Shape.EQUIPMENT: _equipment,
    Shape.PERSON: _person,
    Shape.SPARE: _spare,
    Shape.SIGNATURE: _signature,
    Shape.PERSONAL: _personal,
    Shape.DRAWN: _personal,
    Shape.PHOTO: _photo,
    Shape.QUOTATION: _quotation,
    Shape.LOG: _log,
}


def _history(act: Act) -> Json:
    """Keep what earlier jobs of this pack found; a simulated pack has no earlier jobs."""
    pack = act.record.pack
    known = None if pack is None or act.job.practice else leaks_of(pack.slug, act.job.id)
    if known is None or not known.modules:
        raise InputRefused(NO_HISTORY(HISTORY.key))
    counts = {name: len(jobs) for name, jobs in known.modules.items()}
    return sealed({"jobs": len(known.looked_at), "modules": counts})


def _filled(act: Act, item: Item[Any], value: Json) -> Json:
    """Put in the snapshots of what a value picks."""
    if item.key == HISTORY.key:
        return _history(act)
    fill = _FILL.get(item.shape)
    return fill(act, item, value) if fill else value


def take_value(act: Act) -> Allowed | Refused:
    """Enter a value for an item: ask the flow, check the input, take the snapshots."""
    draft = act.draft
    found = find_item(STEPS, act.record, draft.item)
    blockers = enter_gate(STEPS, act.record, key=draft.item, qualifier=draft.qualifier, by=act.by)
    if blockers or found is None:
        return Refused(blockers or (UNKNOWN(draft.item),))
    item = found[1]
    try:
        value = parse(item, draft.value)
        twice = row_gate(item, act.record, qualifier=draft.qualifier, value=value)
        if twice:
            return Refused(twice)
        stored = _filled(act, item, value)
        return Allowed(stored, effect=str(effect_of(item, value)))
    except InputRefused as refused:
        return Refused((refused.blocker,))
    except (shop_errors.Refused, pack_errors.Refused, ValueError):
        return Refused((NO_SUCH_PICK(item.key),))


def reason_in(value: Json) -> str:
    """Give the reason a person typed; empty when there is none."""
    reason = value.get("reason") if isinstance(value, dict) else None
    return reason.strip()[:500] if isinstance(reason, str) and reason.strip().isprintable() else ""


def strike(act: Act) -> Allowed | Refused:
    """Strike a value with a reason; it stays readable, crossed out."""
    value = act.draft.value
    target = value.get("key") if isinstance(value, dict) else None
    blockers = strike_gate(
        STEPS, act.record, key=target if isinstance(target, str) else "", by=act.by
    )
    if blockers:
        return Refused(blockers)
    reason = reason_in(value)
    return Allowed({"key": target, "reason": reason}) if reason else Refused((NO_REASON(),))
