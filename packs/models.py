"""Columns and constraints of pack definitions, packs as things, and spares; no rules, no queries.

Changes go through packs/actions, reading through packs/queries. What a definition says is
packs/definition.py; what a state of a spare means is packs/spares.py.
"""

import uuid

from django.db import models
from django.db.models import Q
from typing_extensions import override


class Pack(models.Model):
    """A kind of pack; what it is stands in its revisions."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    slug = models.CharField(max_length=60, unique=True)
    name = models.CharField(max_length=120)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("name", "id")

    @override
    def __str__(self) -> str:
        return self.slug


class PackRevision(models.Model):
    """One state of a definition, as it was sent; never changed afterwards."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    pack = models.ForeignKey(Pack, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    toml = models.TextField()
    sha256 = models.CharField(max_length=64)
    created_at = models.DateTimeField()
    created_by = models.UUIDField(null=True, blank=True)
    note = models.CharField(max_length=500, default="", blank=True)

    class Meta:
        ordering = ("pack", "number")
        constraints = (
            models.UniqueConstraint(fields=("pack", "number"), name="pack_revision_number_unique"),
            models.CheckConstraint(condition=Q(number__gte=1), name="pack_revision_from_one"),
        )

    @override
    def __str__(self) -> str:
        return f"{self.pack_id} revision {self.number}"


class PackDraft(models.Model):
    """A definition that is being written; ``touched`` says who changed which section last.

    Once published it is empty and only says which revision it became.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    slug = models.CharField(max_length=60)
    name = models.CharField(max_length=500)
    content = models.JSONField(default=dict)
    based_on = models.ForeignKey(
        PackRevision, on_delete=models.PROTECT, related_name="drafts", null=True, blank=True
    )
    base_number = models.PositiveIntegerField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    touched = models.JSONField(default=dict, blank=True)
    changed_at = models.DateTimeField()
    changed_by = models.UUIDField(null=True, blank=True)
    published = models.ForeignKey(
        PackRevision, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta:
        ordering = ("name", "id")
        constraints = (
            models.UniqueConstraint(
                fields=("slug",), condition=Q(published=None), name="pack_draft_one_of_a_kind"
            ),
        )

    @override
    def __str__(self) -> str:
        return f"draft of {self.slug}"


class PhysicalPack(models.Model):
    """One pack that can be touched, apart from the vehicle it sits in."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    serial = models.CharField(max_length=80)
    pack = models.ForeignKey(
        Pack, on_delete=models.PROTECT, related_name="physical_packs", null=True, blank=True
    )
    note = models.CharField(max_length=500, default="", blank=True)

    class Meta:
        ordering = ("serial", "id")
        constraints = (
            models.UniqueConstraint(fields=("serial", "pack"), name="physical_pack_serial_unique"),
            models.CheckConstraint(condition=~Q(serial=""), name="physical_pack_has_serial"),
        )

    @override
    def __str__(self) -> str:
        return self.serial


class PhysicalPackEvent(models.Model):
    """Something that was entered or corrected about a pack; only ever added."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    physical_pack = models.ForeignKey(PhysicalPack, on_delete=models.PROTECT, related_name="events")
    number = models.PositiveIntegerField()
    at = models.DateTimeField()
    kind = models.CharField(max_length=20)
    values = models.JSONField(default=dict, blank=True)
    note = models.CharField(max_length=500, default="", blank=True)
    person_id = models.UUIDField(null=True, blank=True)

    class Meta:
        ordering = ("physical_pack", "number")
        constraints = (
            models.UniqueConstraint(
                fields=("physical_pack", "number"), name="physical_pack_event_number_unique"
            ),
        )

    @override
    def __str__(self) -> str:
        return f"{self.kind} {self.at:%Y-%m-%d}"


class Spare(models.Model):
    """A module in the shop, with its latest test, place and state; the history is its events.

    ``reserved_for`` is the number of the job that holds it, ``module`` the position there.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    serial = models.CharField(max_length=80, unique=True)
    part = models.CharField(max_length=120)
    chemistry = models.CharField(max_length=20)
    cells = models.PositiveSmallIntegerField()
    capacity_ah = models.FloatField(null=True, blank=True)
    resistance_mohm = models.FloatField(null=True, blank=True)
    cell_v = models.FloatField(null=True, blank=True)
    tested_on = models.DateField(null=True, blank=True)
    insulation_ohm = models.FloatField(null=True, blank=True)
    insulation_comparator = models.CharField(max_length=1, default="=")
    insulation_test_v = models.FloatField(null=True, blank=True)
    rest_h = models.FloatField(null=True, blank=True)
    provenance = models.TextField(max_length=1000)
    place = models.CharField(max_length=120, default="", blank=True)
    state = models.CharField(max_length=20)
    reserved_for = models.CharField(max_length=20, default="", blank=True, db_index=True)
    module = models.CharField(max_length=40, default="", blank=True)

    class Meta:
        ordering = ("part", "serial")
        constraints = (
            models.CheckConstraint(condition=~Q(serial=""), name="spare_has_serial"),
            models.CheckConstraint(condition=Q(cells__gte=1), name="spare_has_cells"),
            models.CheckConstraint(
                condition=Q(capacity_ah__isnull=True) | Q(capacity_ah__gt=0),
                name="spare_capacity_above_zero",
            ),
            models.CheckConstraint(
                condition=Q(resistance_mohm__isnull=True) | Q(resistance_mohm__gt=0),
                name="spare_resistance_above_zero",
            ),
            models.CheckConstraint(
                condition=Q(reserved_for="") | Q(state__in=("reserved", "fitted")),
                name="spare_held_only_where_used",
            ),
        )

    @override
    def __str__(self) -> str:
        return self.serial


class SpareEvent(models.Model):
    """Something that was done with a spare; only ever added."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    spare = models.ForeignKey(Spare, on_delete=models.PROTECT, related_name="events")
    number = models.PositiveIntegerField()
    at = models.DateTimeField()
    kind = models.CharField(max_length=20)
    state = models.CharField(max_length=20)
    place = models.CharField(max_length=120, default="", blank=True)
    job = models.CharField(max_length=20, default="", blank=True)
    module = models.CharField(max_length=40, default="", blank=True)
    values = models.JSONField(default=dict, blank=True)
    note = models.CharField(max_length=500, default="", blank=True)
    person_id = models.UUIDField(null=True, blank=True)

    class Meta:
        ordering = ("spare", "number")
        constraints = (
            models.UniqueConstraint(fields=("spare", "number"), name="spare_event_number_unique"),
        )

    @override
    def __str__(self) -> str:
        return f"{self.kind} {self.at:%Y-%m-%d}"


class LogSource(models.Model):
    """Which column is what in the logs of one source, as it was last taken."""

    name = models.CharField(max_length=200, primary_key=True)
    columns = models.JSONField()
    current_sign = models.CharField(max_length=20)
    changed_at = models.DateTimeField()
    changed_by = models.UUIDField(null=True, blank=True)

    class Meta:
        ordering = ("-changed_at", "name")
        constraints = (models.CheckConstraint(condition=~Q(name=""), name="log_source_has_name"),)

    @override
    def __str__(self) -> str:
        return self.name
