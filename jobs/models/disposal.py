"""Columns of disposals: where a removed module or a spare went."""

from django.db import models
from typing_extensions import override


class Disposal(models.Model):
    """Where a removed module or a spare went, chained for each of them; never changed or deleted.

    ``subject`` is the watch of a removed module, or the spare.
    """

    key = models.UUIDField(primary_key=True)
    subject = models.UUIDField(db_index=True)
    serial = models.CharField(max_length=120, blank=True)
    watch = models.ForeignKey(
        "jobs.QuarantineWatch",
        on_delete=models.PROTECT,
        related_name="disposals",
        null=True,
        blank=True,
    )
    seq = models.PositiveIntegerField()
    at = models.DateTimeField(db_index=True)
    person = models.UUIDField()
    values = models.JSONField()
    digest = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ("at", "seq")
        constraints = (
            models.UniqueConstraint(fields=("subject", "seq"), name="disposal_once_a_place"),
        )

    @override
    def __str__(self) -> str:
        return f"{self.serial} {self.at:%Y-%m-%d}".strip()
