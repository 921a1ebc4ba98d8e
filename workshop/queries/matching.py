"""How a word that somebody typed finds a customer or a vehicle, whatever way it is spelled."""

from functools import reduce
from typing import Final

from django.db.models import F, Q, QuerySet, Value
from django.db.models.expressions import Combinable
from django.db.models.functions import Replace

from workshop.finding import PHONE_MARKS, SEPARATORS, close_plate, phone_core, phone_ends
from workshop.models import Customer, Vehicle
from workshop.queries.identifiers import SEARCH_LENGTH, words

NOTHING: Final = Q(pk__in=[])


def _without(field: str, marks: str) -> Combinable:
    """Give a column without some characters."""
    plain: Combinable = F(field)
    return reduce(lambda left, mark: Replace(left, Value(mark), Value("")), marks, plain)


def vehicle_rows() -> QuerySet[Vehicle]:
    """Fetch vehicles with their customer, the plate and the telephone number also run together."""
    return Vehicle.objects.select_related("customer").annotate(
        close_plate=_without("plate", SEPARATORS),
        close_phone=_without("customer__phone", PHONE_MARKS),
    )


def customer_rows() -> QuerySet[Customer]:
    """Fetch customers that were not erased, the telephone number also run together."""
    rows = Customer.objects.filter(erased_at__isnull=True)
    return rows.annotate(close_phone=_without("phone", PHONE_MARKS))


def _spelled(field: str, word: str) -> Q:
    """Look for a word in a column; SQLite knows no capitals beyond the plain letters."""
    ways = {word} if word.isascii() else {word, word.lower(), word.upper(), word.capitalize()}
    return reduce(lambda left, way: left | Q(**{f"{field}__icontains": way}), ways, NOTHING)


def _by_phone(text: str) -> Q:
    """Look for a telephone number in any spelling."""
    return reduce(lambda left, run: left | Q(close_phone__contains=run), phone_ends(text), NOTHING)


def _is_number(search: str) -> bool:
    """Say whether all that was typed is one telephone number, spaces and all."""
    return bool(phone_core(search))


def customers_found(search: str) -> Q:
    """Give what a customer has to meet: every word, or the number typed, somewhere."""
    whole = search.replace("\x00", " ")[:SEARCH_LENGTH].strip()
    every = Q()
    for word in words(search):
        every &= _spelled("name", word) | _spelled("email", word) | _by_phone(word)
    return every | _by_phone(whole) if _is_number(whole) else every


def vehicles_found(search: str) -> Q:
    """Give what a vehicle has to meet: every word, or the plate or number typed, somewhere."""
    whole = search.replace("\x00", " ")[:SEARCH_LENGTH].strip()
    every = Q()
    for word in words(search):
        every &= _vehicle_has(word)
    close = close_plate(whole)
    if close:
        every |= Q(close_plate__contains=close) | Q(vin__icontains=close)
    return every | _by_phone(whole) if _is_number(whole) else every


def _vehicle_has(word: str) -> Q:
    """Look for one word in everything that is said of a vehicle and its owner."""
    columns = ("plate", "make", "model", "body", "vin", "customer__name", "customer__email")
    said = reduce(lambda left, column: left | _spelled(column, word), columns, NOTHING)
    close = close_plate(word)
    return said | _by_phone(word) | (Q(close_plate__contains=close) if close else NOTHING)
