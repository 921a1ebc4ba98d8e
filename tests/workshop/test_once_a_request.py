"""Registers read seldom: what a writer changed is seen at once, what it gave up is not."""

from collections.abc import Callable
from threading import Thread

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from workshop import clock, once_a_request, queries
from workshop.limits import DEFAULTS
from workshop.models import Person, PlaceTries, Qualification, RegisterMark, Shop, ShopLimit
from workshop.once_a_request import asking
from workshop.writing import one_writer

pytestmark = pytest.mark.django_db


def a_person() -> Person:
    return Person.objects.create(
        display_name="Tern Vale", short_name="Tern", role="technician", created_at=clock.now()
    )


def asked() -> int:
    """Count what is asked of the database where the shop is wanted twice."""
    with CaptureQueriesContext(connection) as seen:
        queries.shop()
        queries.shop()
    return sum('FROM "workshop_shop"' in each["sql"] for each in seen)


def mark() -> int:
    return RegisterMark.objects.get().mark


def test_a_register_is_read_once_within_a_request_and_each_time_outside() -> None:
    assert asked() == 2
    with asking():
        assert asked() == 1
    assert asked() == 2


def test_each_request_reads_for_itself() -> None:
    for _ in range(2):
        with asking():
            assert asked() == 1


def test_what_is_written_is_seen_at_once_whichever_way_it_is_written() -> None:
    with asking():
        before = queries.shop().name
        Shop.objects.update(name=before + " one")
        assert queries.shop().name == before + " one"
        row = Shop.objects.get()
        row.name = before + " two"
        row.save()
        assert queries.shop().name == before + " two"


def give_up() -> None:
    with one_writer():
        Shop.objects.update(name="given up")
        assert queries.shop().name == "given up"
        raise RuntimeError("given up")


def elsewhere(act: Callable[[], object]) -> None:
    """Do something on a connection of its own."""

    def work() -> None:
        try:
            act()
        finally:
            connection.close()

    thread = Thread(target=work)
    thread.start()
    thread.join()


on_a_file = pytest.mark.skipif(
    connection.vendor != "sqlite", reason="nothing is ever emptied between tests on PostgreSQL"
)


@pytest.fixture
def _marked(transactional_db: None) -> None:
    """Put back the rows that emptying the tables took."""
    Shop.objects.get_or_create(pk=1)
    RegisterMark.objects.get_or_create(pk=1)
    once_a_request._SHELF.clear()  # noqa: SLF001 - a first mark is the same in each new row


@on_a_file
@pytest.mark.usefixtures("_marked")
@pytest.mark.parametrize("changed", ["shop", "person"])
def test_a_writer_sees_in_its_turn_what_others_wrote_before_it(changed: str) -> None:
    def change() -> None:
        if changed == "shop":
            Shop.objects.update(name="renamed")
        else:
            a_person()

    with asking():
        before = queries.shop().name
        elsewhere(change)
        with one_writer():
            assert asked() == 1
            assert queries.shop().name == ("renamed" if changed == "shop" else before)


@on_a_file
@pytest.mark.usefixtures("_marked")
def test_what_one_request_read_the_next_one_need_not() -> None:
    with asking():
        assert asked() == 1
    for _ in range(2):
        with asking():
            assert asked() == 0
            with one_writer():
                assert asked() == 0


@on_a_file
@pytest.mark.usefixtures("_marked")
def test_what_was_written_elsewhere_costs_the_next_turn_nothing() -> None:
    """A batch of entries: each is written in a turn of its own, and no register has changed."""
    with asking():
        assert asked() == 1
        for name in ("one", "two"):
            with one_writer():
                assert asked() == 0
                PlaceTries.objects.create(place=name, last_at=clock.now())
                assert asked() == 1


@on_a_file
@pytest.mark.usefixtures("_marked")
def test_the_next_request_sees_what_was_changed_meanwhile() -> None:
    for name in ("one", "two", "three"):
        with asking():
            queries.shop()
        elsewhere(lambda: Shop.objects.update(name=name))  # noqa: B023 - called at once
        with asking():
            assert queries.shop().name == name


@on_a_file
@pytest.mark.usefixtures("_marked")
def test_what_was_given_up_is_never_kept_for_another_request() -> None:
    with asking():
        queries.shop()
        with pytest.raises(RuntimeError):
            give_up()
    elsewhere(lambda: Shop.objects.update(name="stands"))
    with asking():
        assert queries.shop().name == "stands"


@on_a_file
@pytest.mark.usefixtures("_marked")
def test_nothing_is_kept_where_the_database_marks_nothing() -> None:
    RegisterMark.objects.all().delete()
    for _ in range(2):
        with asking():
            assert asked() == 1


def test_every_change_of_a_kept_register_is_marked() -> None:
    """Whoever makes it and however: the database itself marks it."""
    person = a_person()
    key = next(iter(DEFAULTS))
    limit = {"value": 5.0, "changed_at": clock.now(), "changed_by": person}
    for change in (
        lambda: Shop.objects.update(name="other"),
        lambda: Person.objects.filter(pk=person.pk).update(language="de"),
        lambda: Qualification.objects.create(person=person, code="live_work"),
        lambda: Qualification.objects.update(certificate="K 4"),
        lambda: Qualification.objects.all().delete(),
        lambda: ShopLimit.objects.create(key=key, **limit),
        lambda: ShopLimit.objects.all().delete(),
        lambda: Person.objects.filter(pk=person.pk).delete(),
    ):
        before = mark()
        change()
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
                cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        assert mark() != before


def test_a_writer_reads_anew_after_its_own_statements() -> None:
    with asking(), one_writer():
        queries.shop()
        Shop.objects.update(name="by myself")
        with one_writer():
            assert queries.shop().name == "by myself"


def test_what_a_writer_gave_up_is_forgotten() -> None:
    with asking():
        before = queries.shop().name

        with pytest.raises(RuntimeError):
            give_up()
        assert queries.shop().name == before


def test_a_person_who_leaves_while_a_request_goes_on_is_noticed() -> None:
    row = a_person()
    with asking():
        mark = queries.session_mark(str(row.id))
        assert queries.person_of_session(str(row.id), mark) is not None
        Person.objects.filter(pk=row.id).update(active=False)
        assert queries.person_of_session(str(row.id), mark) is None
