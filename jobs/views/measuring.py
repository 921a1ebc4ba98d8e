"""Answers while somebody measures: what a reading means, how a settling goes, what was scanned.

Everything here is computed and nothing is stored; what is entered goes through the door.
"""

from decimal import Decimal
from typing import Any, Final

from django.http import JsonResponse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from jobs.core.item import Item, Shape
from jobs.core.order import find_item
from jobs.core.parsing import parse, parse_number
from jobs.core.reason import InputRefused
from jobs.core.record import Record
from jobs.core.settling import settling_so_far
from jobs.steps import STEPS
from jobs.views.doubts import doubts_said
from jobs.views.job import found
from jobs.views.page import wording_for
from packs import queries as packs
from packs.physics.decay import Sample
from packs.settling_curve import settling_curve
from packs.svg import svg
from workshop import queries as shop
from workshop import units
from workshop.equipment import KINDS
from workshop.sign_on import ShopRequest, signed_on

__all__ = ["reading", "scanned", "settling"]

MOST_ROWS: Final = 600
MOST_TYPED: Final = 200
_NUMBERS = {Shape.READING, Shape.BOUNDED, Shape.TABLE, Shape.TORQUE, Shape.SERIES}


def _asked(request: ShopRequest, record: Record) -> Item[Any] | None:
    """Give the item that is meant; None where the job asks no such thing."""
    place = find_item(STEPS, record, request.GET.get("item", "")[:MOST_TYPED])
    return None if place is None else place[1]


def _stored(item: Item[Any], typed: str, unit: str) -> Any:
    """Give the stored form of one number, however the item collects them and in which unit."""
    if item.shape in {Shape.READING, Shape.BOUNDED}:
        return parse(item, {"typed": typed, "in": unit})
    row = item.rows[0] if item.rows else "1"
    if item.shape in {Shape.TABLE, Shape.TORQUE}:
        cell = parse(item, {"in": unit or item.unit, "rows": {row: typed}})[row]
        return cell if isinstance(cell, dict) else {"number": cell}
    rows = parse(item, {"in": unit or item.unit, "rows": [["0", typed], ["1", typed]]})
    return {"number": rows[0][1]}


@require_GET
@signed_on()
def reading(request: ShopRequest, job_id: str) -> JsonResponse:
    """Say what a number that is being typed means, what is wrong with it, and what is odd."""
    info, record = found(job_id)
    item, typed = _asked(request, record), request.GET.get("typed", "")[:MOST_TYPED]
    if item is None or item.shape not in _NUMBERS:
        return JsonResponse({"verdict": "refused", "text": gettext("Nothing is asked here.")})
    words = wording_for(info, record)
    try:
        stored = _stored(item, typed, request.GET.get("in", "")[:MOST_TYPED])
    except InputRefused as refused:
        return JsonResponse({"verdict": "refused", "text": words.said(refused.blocker)})
    doubts = doubts_said(record, item, stored, words) if "comparator" in stored else ()
    both = "typed_unit" in stored or units.is_converted(item.unit)
    shown = words.cell(item, stored) if both else ""
    shown = words.value(item, stored) if "comparator" in stored else shown
    return JsonResponse({"verdict": "taken", "means": shown, "doubts": list(doubts)})


def _rows(text: str) -> list[Sample] | None:
    """Read the rows that were recorded; None where one of them is no time with a number."""
    rows = []
    for line in text.splitlines()[:MOST_ROWS]:
        cells = [cell.strip() for cell in line.split(";")]
        numbers = [parse_number(cell, unit) for cell, unit in zip(cells, ("s", "V"), strict=False)]
        time_s, volts = [*numbers, None, None][:2]
        if not isinstance(time_s, Decimal) or not isinstance(volts, Decimal):
            return None
        rows.append(Sample(t_s=float(time_s), v=float(volts)))
    return rows


@require_GET
@signed_on()
def settling(request: ShopRequest, job_id: str) -> JsonResponse:
    """Fit what was recorded so far and draw it."""
    info, record = found(job_id)
    item, rows = _asked(request, record), _rows(request.GET.get("rows", ""))
    if item is None or item.shape is not Shape.SERIES or rows is None:
        return JsonResponse({"text": gettext("One row is no time with a number."), "enough": False})
    words, so_far = wording_for(info, record), settling_so_far(record, item, rows)
    found_v = so_far.found
    tau = None if found_v is None or found_v.tau_s is None else f"{found_v.tau_s:.3g}"
    drawn = svg(settling_curve(rows, found_v)) if rows else ""
    return JsonResponse(
        {
            "text": words.said(so_far.said),
            "more": "" if so_far.more is None else words.said(so_far.more),
            "tau": "" if tau is None else gettext("time constant {tau} s").format(tau=tau),
            "enough": so_far.enough,
            "kind": "" if found_v is None else found_v.kind,
            "picture": drawn,
        }
    )


def _matches(code: str, record: Record) -> list[tuple[str, str]]:
    """Give what carries a code as its serial number or its label: identifier and name."""
    wanted, today = code.casefold(), shop.local_day(record.now)
    pieces = (each for kind in KINDS for each in shop.equipment_of_kind(kind, today))
    named = [
        (str(each.id), each.label, {each.serial.casefold(), each.label.casefold()})
        for each in pieces
    ]
    named += [(str(each.id), each.serial, {each.serial.casefold()}) for each in packs.spares()]
    return [(key, label) for key, label, codes in named if wanted in codes]


@require_GET
@signed_on()
def scanned(request: ShopRequest, job_id: str) -> JsonResponse:
    """Say which piece of equipment or spare carries a code that was scanned."""
    _, record = found(job_id)
    code = request.GET.get("code", "").strip()[:MOST_TYPED]
    matches = _matches(code, record) if code else []
    if len(matches) != 1:
        text = gettext("“{code}” is no equipment and no spare of this workshop.")
        if matches:
            text = gettext("“{code}” stands on more than one piece. Pick it from the list.")
        return JsonResponse({"id": "", "text": text.format(code=code)})
    key, label = matches[0]
    return JsonResponse({"id": key, "text": label})
