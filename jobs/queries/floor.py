"""What the shop has on a day: who may do what, which equipment may be used. Read once."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from jobs.core.item import PersonUsed
from workshop import queries as shop
from workshop.people import PersonInfo
from workshop.registers import EquipmentInfo

__all__ = ["Floor", "floor_on"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """The shop's people and equipment on a day.

    Attributes
    ----------
    people : tuple[PersonUsed, ...]
        Who works there, as the flow sees them.
    names : Mapping[str, str]
        Short names by identifier, of those who have left too.
    pieces : Mapping[str, tuple[EquipmentInfo, ...]]
        Equipment that is not withdrawn, by kind.
    known : bool
        False for a day gone by, of which the registers do not say any more what was there.
    """

    people: tuple[PersonUsed, ...] = ()
    names: Mapping[str, str]
    pieces: Mapping[str, tuple[EquipmentInfo, ...]]
    known: bool = True

    def of_kinds(self, kinds: tuple[str, ...]) -> tuple[EquipmentInfo, ...]:
        """Give the pieces of some kinds."""
        return tuple(piece for kind in kinds for piece in self.pieces.get(kind, ()))


def _used(person: PersonInfo) -> PersonUsed:
    held = {each.code: each.expires_on for each in person.qualifications}
    return PersonUsed(person.id, person.role, held)


def floor_on(day: date) -> Floor:
    """Give the shop's people and equipment on a day."""
    everybody = shop.people(with_former=True)
    pieces: dict[str, list[EquipmentInfo]] = {}
    for piece in shop.all_equipment(day):
        pieces.setdefault(piece.kind, []).append(piece)
    return Floor(
        people=tuple(_used(person) for person in everybody if person.active),
        names={person.id: person.short_name for person in everybody},
        pieces={kind: tuple(found) for kind, found in pieces.items()},
    )
