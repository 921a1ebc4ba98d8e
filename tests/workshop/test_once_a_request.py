"""Registers read once a request: what a writer changed is seen at once, what it gave up is not."""

from collections.abc import Callable
from threading import Thread

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from workshop import clock, queries
from workshop.models import Person, Shop
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
    return len(seen)


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


@pytest.mark.skipif(
    connection.vendor != "sqlite", reason="only SQLite tells whether anybody has written"
)
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("changed", ["shop", "person"])
def test_a_writer_sees_in_its_turn_what_others_wrote_before_it(changed: str) -> None:
    """Whatever others wrote: the state is that of the whole database."""

    def change() -> None:
        if changed == "shop":
            Shop.objects.update(name="renamed")
        else:
            a_person()

    Shop.objects.get_or_create(pk=1)
    with asking():
        before = queries.shop().name
        elsewhere(change)
        with one_writer():
            assert asked() == 1
            assert queries.shop().name == ("renamed" if changed == "shop" else before)


def test_a_writer_after_whom_nobody_wrote_reads_nothing_twice_where_that_can_be_told() -> None:
    with asking():
        queries.shop()
        with one_writer():
            assert asked() == (0 if connection.vendor == "sqlite" else 1)


def test_a_writer_reads_anew_after_its_own_statements() -> None:
    with asking(), one_writer():
        queries.shop()
        Shop.objects.update(name="by myself")
        with one_writer():
            assert queries.shop().name == "by myself"


def test_what_a_writer_gave_up_is_forgotten() -> None:
    with asking():
        before = queries.shop().name

        def give_up() -> None:
            with one_writer():
                Shop.objects.update(name="given up")
                assert queries.shop().name == "given up"
                raise RuntimeError("given up")

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
