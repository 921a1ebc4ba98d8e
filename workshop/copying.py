"""Copying every row of the project from one database into another, as it is."""

from collections.abc import Callable, Iterator
from typing import Any, Final

from django.apps import apps
from django.core.management.color import no_style
from django.db import connections, transaction
from django.db.models import Model

__all__ = ["copied_models", "copy_rows"]

BATCH: Final = 500
_LEFT_BEHIND: Final = {"django_session", "workshop_registermark"}
"""People sign on again, and each database marks its own changes."""


def copied_models() -> list[type[Model]]:
    """Name the tables that are copied."""
    found = apps.get_models(include_auto_created=True)
    return [model for model in found if model._meta.db_table not in _LEFT_BEHIND]


def _all(model: type[Model], name: str) -> Any:
    """Give every row, whatever the model's own manager leaves out."""
    return model._base_manager.using(name).all()  # noqa: SLF001 - public, though underscored


def _batches(model: type[Model], source: str) -> Iterator[list[Model]]:
    batch: list[Model] = []
    rows = _all(model, source).order_by("pk")
    for row in rows.iterator(chunk_size=BATCH):
        batch.append(row)
        if len(batch) == BATCH:
            yield batch
            batch = []
    if batch:
        yield batch


def copy_rows(source: str, target: str, tell: Callable[[str, int], object]) -> None:
    """Copy every table in one transaction of the target.

    Parameters
    ----------
    source, target : str
        What Django calls the two databases; the target has the same tables.
    tell : Callable[[str, int], object]
        Told the name of each table and its number of rows.
    """
    with transaction.atomic(using=target):
        for model in copied_models():
            # What the migrations put there, such as the shop's own row, comes with the copy.
            _all(model, target).delete()
        for model in copied_models():
            count = 0
            for batch in _batches(model, source):
                _all(model, target).bulk_create(batch)
                count += len(batch)
            tell(model._meta.db_table, count)
        link = connections[target]
        with link.cursor() as cursor:
            for statement in link.ops.sequence_reset_sql(no_style(), copied_models()):
                cursor.execute(statement)
