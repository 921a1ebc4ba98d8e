"""What the entries of a job write into registers, in the transaction of the entry.

A picked spare is held for the job and fitted when the swap is signed; a torque tool counts the
bolts it tightened; a pack gets the kind that its job found. `barred` asks before an entry is
written, `follow` writes after. What the record says of all this never asks a register.
"""

import uuid
from collections.abc import Mapping

from jobs.actions.context import Act
from jobs.core.entry import Json, Kind
from jobs.core.item import EquipmentUsed, Shape, qualifier_parts
from jobs.core.order import find_item
from jobs.core.reason import Blocker, Reason
from jobs.core.record import Given, Record
from jobs.core.torque import tool_of
from jobs.models import ChainHead
from jobs.queries.records import fold_job
from jobs.steps import STEPS
from jobs.steps.module_swap.items import SLUG as SWAP
from jobs.steps.module_swap.items import SPARE
from packs import actions as packs
from packs import queries as pack_queries
from packs.errors import InputRefused
from packs.spares import FITTED, IN_STOCK, RESERVED, SpareInfo, bars
from workshop import queries as shop
from workshop.actions import count_torque_cycles

__all__ = ["REASONS", "barred", "follow"]

SPARE_TAKEN = Reason(
    "spare_taken", "Spare {serial} is reserved for job {job}. Pick another one, or strike it there."
)
SPARE_FITTED = Reason("spare_fitted", "Spare {serial} was fitted in job {job}. Pick another one.")
SPARE_BARRED = Reason("spare_barred", "Spare {serial} may not be used: {why}. Pick another one.")
SPARE_GONE = Reason(
    "spare_gone",
    "Spare {serial} is {state} in the register since it was picked. Strike it and pick another "
    "one, or put its state right.",
)
TOOL_WORN = Reason(
    "torque_tool_worn",
    "{label} is due for calibration: {cycles} of {limit} cycles used. Pick another tool and "
    "tighten with it.",
)
PACK_KIND = Reason(
    "pack_kind_differs",
    "Pack {serial} stands in the register as {kind}. Compare its label: choose that definition, "
    "or correct the register first.",
)

REASONS = (SPARE_TAKEN, SPARE_FITTED, SPARE_BARRED, SPARE_GONE, TOOL_WORN, PACK_KIND)

TORQUE, TOOL = "_torque", "_tool"
"""Endings of the keys of a torque list's values and of its tool."""
_SPARE_KINDS = frozenset({Kind.STRIKE, Kind.SIGN, Kind.REOPEN, Kind.CLOSE})


def _spare(spare_id: object) -> SpareInfo | None:
    try:
        return pack_queries.spare(uuid.UUID(str(spare_id)))
    except (ValueError, InputRefused):
        return None


def _spare_barred(act: Act, value: Json) -> tuple[Blocker, ...]:
    """Say what bars the spare that is picked; what this job holds itself is no bar."""
    info = _spare(value["id"])
    found = () if info is None else bars(info, job=act.job.number)
    if info is None or not found:
        return ()
    key, at, serial = act.draft.item, act.draft.qualifier, info.serial
    for bar in found:
        if bar.code == "reserved":
            return (SPARE_TAKEN(key, at, serial=serial, job=bar.job),)
        if bar.code == "fitted":
            return (SPARE_FITTED(key, at, serial=serial, job=bar.job),)
    why = ", ".join(bar.text.format(job=bar.job) for bar in found)
    return (SPARE_BARRED(key, at, serial=serial, why=why),)


def _signs_swap(act: Act, value: Json) -> bool:
    signs = act.draft.kind is Kind.SIGN
    return signs and value["step"] == SWAP and value["outcome"] == "done"


def _gone(act: Act) -> tuple[Blocker, ...]:
    """Name the spares that were picked and cannot be entered as fitted any more."""
    found: list[Blocker] = []
    for given in act.record.all(SPARE):
        info = _spare(given.value.id)
        if info is None:
            continue
        mine = info.state == RESERVED and info.reserved_for == act.job.number
        if not mine and info.state != IN_STOCK:
            at = given.entry.qualifier
            found.append(SPARE_GONE(SPARE.key, at, serial=info.serial, state=info.state_words))
    return tuple(found)


def _tool(record: Record, key: str, qualifier: str) -> Given[EquipmentUsed] | None:
    """Give the tool that torque values were tightened with; None for any other value."""
    values = find_item(STEPS, record, key)
    tool = find_item(STEPS, record, key.removesuffix(TORQUE) + TOOL)
    if values is None or tool is None or not key.endswith(TORQUE):
        return None
    if values[1].shape is not Shape.TORQUE or tool[1].shape is not Shape.EQUIPMENT:
        return None
    stage = qualifier_parts(qualifier).get("stage", "1")
    return tool_of(record, tool[1], int(stage)) if stage.isdecimal() else None


def _worn(act: Act) -> tuple[Blocker, ...]:
    """Say that the torque tool has used up its cycles, in this job or in another one."""
    used = _tool(act.record, act.draft.item, act.draft.qualifier)
    if used is None:
        return ()
    piece = shop.equipment_piece(used.value.id, shop.local_day(act.now))
    why = None if piece is None else piece.reason
    if piece is None or why is None or why.code != "cycles_used":
        return ()
    worn = TOOL_WORN(
        act.draft.item,
        act.draft.qualifier,
        label=piece.label,
        cycles=why.cycles,
        limit=why.limit,
    )
    return (worn,)


def _other_kind(act: Act, value: Json) -> tuple[Blocker, ...]:
    """Say that the pack is of another kind than the definition that is chosen."""
    if act.job.physical_pack_id is None:
        return ()
    pack = pack_queries.physical_pack(act.job.physical_pack_id)
    if pack.slug is None or pack.slug == value["slug"]:
        return ()
    return (PACK_KIND(serial=pack.serial, kind=pack.kind_name),)


def barred(act: Act, value: Json) -> tuple[Blocker, ...]:
    """Say what stands in a register against an entry that the record allows.

    Parameters
    ----------
    act : Act
        What is done.
    value : Json
        What the entry would hold.

    Returns
    -------
    tuple[Blocker, ...]
        Empty where nothing stands against it.
    """
    kind = act.draft.kind
    if kind is Kind.VALUE and act.draft.item == SPARE.key:
        return _spare_barred(act, value)
    if kind is Kind.VALUE:
        return _worn(act) if isinstance(value, Mapping) else ()
    if kind is Kind.REVISION:
        return _other_kind(act, value)
    return _gone(act) if _signs_swap(act, value) else ()


def _settle_spares(act: Act, record: Record, why: str) -> None:
    """Bring the register to what the record says of this job's spares; once is enough."""
    number, by = act.job.number, uuid.UUID(act.by.id)
    signature = record.signatures.get(SWAP)
    fitted = signature is not None and signature.outcome == "done"
    closed = record.closed is not None
    wanted = {} if closed and not fitted else {
        given.value.id: given.part("module") for given in record.all(SPARE)
    }  # fmt: skip
    packs.release_spares(
        job=number,
        keep=frozenset(uuid.UUID(each) for each in wanted),
        set_aside=closed,
        by=by,
        now=act.now,
        note=why,
    )
    for each, module in wanted.items():
        info = _spare(each)
        if info is None or (info.state, info.reserved_for) not in {
            (IN_STOCK, ""),
            (RESERVED, number),
            (FITTED, number),
        }:
            continue
        if fitted:
            packs.fit_spare(spare_id=info.id, job=number, module=module, by=by, now=act.now)
        else:
            packs.hold_spare(
                spare_id=info.id, job=number, module=module, by=by, now=act.now, note=why
            )


def _concerns_spares(act: Act) -> bool:
    if act.draft.kind is Kind.VALUE:
        return act.draft.item == SPARE.key
    return act.draft.kind is Kind.CLOSE or (
        act.draft.kind in _SPARE_KINDS and act.record.has(SPARE)
    )


def follow(act: Act, value: Json, head: ChainHead) -> None:
    """Write into the registers what an entry that was applied means there.

    Parameters
    ----------
    act : Act
        What was done, with the record before it.
    value : Json
        What the entry holds.
    head : ChainHead
        The head of the chain, the entry included.
    """
    if _concerns_spares(act):
        reason = value.get("reason", "") if isinstance(value, Mapping) else ""
        record = fold_job(act.job.id, head_hash=head.hash, now=act.now)
        _settle_spares(act, record, str(reason))
    elif act.draft.kind is Kind.VALUE and isinstance(value, Mapping) and value:
        used = _tool(act.record, act.draft.item, act.draft.qualifier)
        if used is not None:
            count_torque_cycles(equipment_id=used.value.id, cycles=len(value))
    elif act.draft.kind is Kind.REVISION and act.job.physical_pack_id is not None:
        packs.set_pack_kind(
            pack_id=act.job.physical_pack_id,
            slug=value["slug"],
            by=uuid.UUID(act.by.id),
            now=act.now,
            note=f"Job {act.job.number}",
        )
