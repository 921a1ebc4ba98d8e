"""Recording where a removed module or a spare went; a record is corrected by a further one."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from jobs.actions.quarantine import HANDED_OVER, Ending, may_end, write_end
from jobs.core.disposal import CLASSES, CRITICAL, HEALTHY, VERSION
from jobs.core.entry import Json
from jobs.core.reason import InputRefused, Reason
from jobs.core.seal import FIRST_PREVIOUS, sealed
from jobs.models import Attachment, Disposal, QuarantineWatch
from jobs.queries.disposal import Subject, disposal_digest, records_of, subject_of
from packs import actions as packs
from packs.spares import FITTED, SCRAPPED, moves_by_hand
from workshop import queries as shop
from workshop.actions import check_pin
from workshop.errors import NotAllowed
from workshop.people import MANAGER, PersonInfo
from workshop.writing import one_writer

__all__ = ["REASONS", "RECEIVERS", "NewDisposal", "record_disposal"]

RECEIVERS: Final = {
    "recycler": "Recycler or carrier for one",
    "maker": "Vehicle or battery maker",
    "authority": "Fire brigade or authority",
    "other": "Somebody else licensed for it",
}
"""Who may take a module, with the title."""

UNKNOWN = Reason("disposal_unknown", "There is no such module or spare.")
KEY_USED = Reason("disposal_key_used", "Something else was sent from this page. Reload it.")
ROLE = Reason(
    "disposal_role",
    "A technician or manager qualified for work on live high-voltage systems hands a module over.",
)
WATCHED = Reason(
    "disposal_watched",
    "Its watch still runs. End it first; or a manager records that the receiver collects it with "
    "an escort, and why.",
)
WHY_EARLY = Reason("disposal_why_early", "Say why it goes before the end of its watch.")
CLASS = Reason("disposal_class", "Choose the class it goes in.")
TOO_LOW = Reason(
    "disposal_class_low",
    "Its job says that it was wet, leaking, swollen, damaged or showed danger signs. It goes at "
    "least as damaged or defective.",
)
TOO_LOW_DANGER = Reason(
    "disposal_class_danger", "Its job says that it showed danger signs. It goes as critical."
)
CRITICAL_ROLE = Reason("disposal_critical_role", "A manager hands over a critical module.")
CRITICAL_WHY = Reason(
    "disposal_critical_why", "Say what maker, authority or fire brigade said about how it goes."
)
RECEIVER = Reason("disposal_receiver", "Say who took it.")
PAPER = Reason("disposal_paper", "Enter the number of the consignment paper or receipt.")
TERMINALS = Reason("disposal_terminals", "Insulate its poles first, then tick it.")
DAY = Reason("disposal_day", "It cannot have been handed over on a day to come.")
WEIGHT = Reason("disposal_weight", "Enter a weight above zero.")
CHARGE = Reason("disposal_charge", "Enter a charge from 0 to 100 %.")
CORRECTS = Reason("disposal_corrects", "It is recorded already. Say what was wrong in that record.")
FITTED_NOW = Reason("disposal_fitted", "Job {job} holds this spare. Strike it there first.")
PIN = Reason("disposal_pin", "The PIN is not right.")

REASONS = (UNKNOWN, KEY_USED, ROLE, WATCHED, WHY_EARLY, CLASS, TOO_LOW, TOO_LOW_DANGER,
           CRITICAL_ROLE, CRITICAL_WHY, RECEIVER, PAPER, TERMINALS, DAY, WEIGHT, CHARGE, CORRECTS,
           FITTED_NOW, PIN)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class NewDisposal:
    """A record as sent.

    Attributes
    ----------
    key, subject : str
        Key made by the page; the module's watch, or the spare.
    condition : str
        One of `CLASSES`.
    receiver_kind, receiver, paper : str
        Who took it, and the number of the consignment paper.
    handed_on : date
        The day.
    weight_kg, charge_percent : float | None
        As weighed and read; the charge may be unknown.
    terminals : bool
        Whether its poles are insulated.
    escort : bool
        Whether the receiver collects it with an escort before its watch is over.
    note : str
        Reason, remark, or what was wrong in the record before.
    photo : str
        Digest of a picture kept with its job; empty for none.
    """

    key: str
    subject: str
    condition: str
    receiver_kind: str
    receiver: str
    paper: str
    handed_on: date
    weight_kg: float | None
    charge_percent: float | None
    terminals: bool
    escort: bool = False
    note: str = ""
    photo: str = ""


def _check_class(new: NewDisposal, subject: Subject, person: PersonInfo) -> None:
    if new.condition not in CLASSES:
        raise InputRefused(CLASS("condition"))
    if subject.dangerous and new.condition != CRITICAL:
        raise InputRefused(TOO_LOW_DANGER("condition"))
    if subject.unsound and new.condition == HEALTHY:
        raise InputRefused(TOO_LOW("condition"))
    if new.condition == CRITICAL and person.role != MANAGER:
        raise InputRefused(CRITICAL_ROLE("condition"))
    if new.condition == CRITICAL and not new.note.strip():
        raise InputRefused(CRITICAL_WHY("note"))


def _check_fields(new: NewDisposal, today: date) -> None:
    if new.receiver_kind not in RECEIVERS or not new.receiver.strip():
        raise InputRefused(RECEIVER("receiver"))
    if not new.paper.strip():
        raise InputRefused(PAPER("paper"))
    if new.handed_on > today:
        raise InputRefused(DAY("handed_on"))
    if new.weight_kg is None or new.weight_kg <= 0:
        raise InputRefused(WEIGHT("weight_kg"))
    if new.charge_percent is not None and not 0 <= new.charge_percent <= 100:  # noqa: PLR2004
        raise InputRefused(CHARGE("charge_percent"))
    if not new.terminals:
        raise InputRefused(TERMINALS("terminals"))


def _check_free(new: NewDisposal, subject: Subject, person: PersonInfo) -> None:
    """Refuse what is still watched, or sits in a pack or is held for one."""
    spare = subject.spare
    if spare is not None and (spare.state == FITTED or spare.held):
        raise InputRefused(FITTED_NOW(job=spare.reserved_for))
    if not subject.watched:
        return
    if person.role != MANAGER or not new.escort:
        raise InputRefused(WATCHED("escort"))
    if not new.note.strip():
        raise InputRefused(WHY_EARLY("note"))


def _values(new: NewDisposal, subject: Subject, person: PersonInfo) -> Json:
    """Give what is kept: facts, the guidance that stood beside, who signed in which role."""
    guidance, last = CLASSES[new.condition], records_of(subject.id)
    photo = Attachment.objects.filter(sha256=new.photo).exists() if new.photo else False
    return sealed(
        {
            "module": "" if subject.watch is None else subject.watch.module,
            "job": subject.job_number,
            "condition": new.condition,
            "number": guidance.number,
            "provision": guidance.provision,
            "packing": guidance.packing,
            "guidance": VERSION,
            "receiver_kind": new.receiver_kind,
            "receiver": new.receiver.strip(),
            "paper": new.paper.strip(),
            "handed_on": new.handed_on,
            "weight_kg": new.weight_kg,
            "charge_percent": new.charge_percent,
            "terminals": new.terminals,
            "escort": new.escort,
            "note": new.note.strip(),
            "photo": new.photo if photo else "",
            "corrects": last[-1].key if last else "",
            "role": person.role,
        }
    )


def _follow(new: NewDisposal, subject: Subject, by: str, now: datetime) -> None:
    """End a watch that still runs, and take the spare out of the register's stock."""
    words = f"{new.receiver.strip()}, {new.paper.strip()}"
    if subject.watch is not None and subject.watch.ended_at is None:
        row = QuarantineWatch.objects.select_for_update().get(pk=subject.watch.pk)
        ending = Ending(key=new.key, watch_id=subject.id, how=HANDED_OVER, to=words, note=new.note)
        write_end(row, ending, by, now)
    spare = subject.spare
    if spare is not None and SCRAPPED in moves_by_hand(spare):
        packs.move_spare(
            spare_id=spare.id,
            state=SCRAPPED,
            place="",
            by=uuid.UUID(by),
            now=now,
            note=f"Disposed of: {words}",
        )


def _same(row: Disposal, new: NewDisposal, by: str) -> bool:
    told = (row.values["paper"], row.values["receiver"], row.values["condition"])
    sent = (new.paper.strip(), new.receiver.strip(), new.condition)
    return told == sent and str(row.person) == by


def record_disposal(*, new: NewDisposal, by: str, pin: str, now: datetime) -> None:
    """Write where a module went; the same sent again changes nothing.

    Parameters
    ----------
    new : NewDisposal
        What was sent.
    by : str
        Who hands it over: qualified for live high-voltage work; a critical module, and one whose
        watch still runs, by a manager.
    pin : str
        Their PIN.
    now : datetime
        The server's time (UTC).

    Raises
    ------
    InputRefused
        With the field that has to be mended.
    NotAllowed
        When nobody is signed on.
    """
    person = shop.person(by)
    if person is None or not person.active:
        raise NotAllowed("not_signed_on")
    if not may_end(person, now):
        raise InputRefused(ROLE())
    if check_pin(by, pin, now).state != "right":
        raise InputRefused(PIN("pin"))
    with one_writer():
        subject, known = subject_of(new.subject), Disposal.objects.filter(pk=new.key).first()
        if subject is None:
            raise InputRefused(UNKNOWN())
        if known is not None:
            if not _same(known, new, by):
                raise InputRefused(KEY_USED())
            return
        _write(new, subject, person, now)


def _write(new: NewDisposal, subject: Subject, person: PersonInfo, now: datetime) -> None:
    earlier = records_of(subject.id)
    if earlier and not new.note.strip():
        raise InputRefused(CORRECTS("note"))
    _check_free(new, subject, person)
    _check_class(new, subject, person)
    _check_fields(new, shop.local_day(now))
    last = Disposal.objects.filter(subject=subject.id).order_by("seq").last()
    row = Disposal(
        key=uuid.UUID(new.key),
        subject=uuid.UUID(subject.id),
        serial=subject.label[:120],
        watch=subject.watch,
        seq=len(earlier) + 1,
        at=now,
        person=uuid.UUID(person.id),
        values=_values(new, subject, person),
    )
    row.digest = disposal_digest(row, FIRST_PREVIOUS if last is None else last.digest)
    row.save(force_insert=True)
    _follow(new, subject, person.id, now)
