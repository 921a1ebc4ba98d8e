"""Erase the personal data of a customer, or of somebody who worked here, on request."""

from typing import Any, Final
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError, CommandParser
from typing_extensions import override

from jobs.actions.erasing import erase_customer, erase_person
from jobs.queries.verify import verify_all
from workshop import clock
from workshop import queries as shop
from workshop.errors import Refused
from workshop.people import MANAGER, PersonInfo

CUSTOMER: Final = "customer"
PERSON: Final = "person"


class Command(BaseCommand):
    """``erase customer|person WHO --by MANAGER --yes``: then every chain is verified."""

    help = (
        "Erase the personal data of a customer, or of a person who has left, and verify every "
        "job afterwards. What was measured and signed stays. Backups made before keep the data."
    )

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("kind", choices=[CUSTOMER, PERSON])
        parser.add_argument("who", help="identifier, as in the address of the page, or the name")
        parser.add_argument("--by", required=True, help="short name of the manager who does it")
        parser.add_argument("--yes", action="store_true", help="do it; it cannot be taken back")

    @override
    def handle(self, *_args: Any, **options: Any) -> None:
        manager = _manager(options["by"])
        found = _found(options["kind"], options["who"])
        if len(found) != 1:
            for key, name in found:
                self.stdout.write(f"{key}  {name}")
            many = "Several are called that: give the identifier." if found else "Nobody is."
            raise CommandError(f"{options['who']}: {many}")
        ((key, name),) = found
        if not options["yes"]:
            raise CommandError(f"{name} ({key}) would be erased for good; say --yes to do it.")
        try:
            if options["kind"] == CUSTOMER:
                erase_customer(customer_id=UUID(key), by=manager.id, now=clock.now())
            else:
                erase_person(person_id=UUID(key), by=manager.id)
        except Refused as refused:
            raise CommandError(str(refused)) from None
        jobs, faults = verify_all()
        if faults:
            raise CommandError(f"Erased, but {len(faults)} faults are in the record: see verify.")
        self.stdout.write(f"Erased. Verified: {jobs} jobs; every chain is as it was written.")


def _manager(short_name: str) -> PersonInfo:
    for each in shop.people():
        if each.short_name == short_name and each.role == MANAGER:
            return each
    raise CommandError(f"{short_name} is no manager who works here.")


def _found(kind: str, who: str) -> list[tuple[str, str]]:
    """Give identifier and name of everybody meant who is not erased yet."""
    if kind == PERSON:
        people = shop.people(with_former=True)
        rows = [(each.id, each.display_name) for each in people if not each.erased]
    else:
        one = shop.customer(who)
        customers = shop.customers(who) if one is None else (one,)
        rows = [(each.id, each.name) for each in customers if each.erased_at is None]
    return [(key, name) for key, name in rows if who in {key, name}]
