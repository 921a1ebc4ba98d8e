"""Jobs, their entries and what belongs to them: columns and constraints only.

Changes go through `jobs.actions`, reading through `jobs.queries`. Entries are append-only; the
database refuses to change or delete them (`jobs.triggers`).
"""

import uuid

from django.db import models
from django.db.models import Q
from typing_extensions import override

from jobs.models.disposal import Disposal as Disposal


class Job(models.Model):
    """One vehicle or pack in the workshop, from booking to hand-over; or one that is simulated."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    number = models.CharField(max_length=20, unique=True)
    practice = models.BooleanField(default=False, db_index=True)
    customer = models.ForeignKey(
        "workshop.Customer", on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    vehicle = models.ForeignKey(
        "workshop.Vehicle", on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    physical_pack = models.ForeignKey(
        "packs.PhysicalPack", on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    arrives_on = models.DateField(null=True, blank=True)
    promised_on = models.DateField(null=True, blank=True)
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True, db_index=True)

    class Meta:
        ordering = ("-opened_at", "number")
        constraints = (
            models.CheckConstraint(
                condition=Q(
                    practice=True,
                    customer__isnull=True,
                    vehicle__isnull=True,
                    physical_pack__isnull=True,
                )
                | (
                    Q(practice=False, customer__isnull=False)
                    & (Q(vehicle__isnull=False) | Q(physical_pack__isnull=False))
                ),
                name="job_has_vehicle_or_pack",
            ),
        )

    @override
    def __str__(self) -> str:
        return self.number


class Practice(models.Model):
    """What belongs to a practice job alone: whose it is, its hidden vehicle, its own time."""

    job = models.OneToOneField(
        Job, on_delete=models.PROTECT, primary_key=True, related_name="practice_run"
    )
    learner = models.UUIDField(db_index=True)
    revision = models.UUIDField()
    seed = models.PositiveIntegerField()
    asked = models.CharField(max_length=20, blank=True)
    fault = models.CharField(max_length=20)
    ahead_s = models.PositiveBigIntegerField(default=0)
    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_how = models.CharField(max_length=20, blank=True)
    score = models.JSONField(null=True, blank=True)

    class Meta:
        ordering = ("-begun_at",)
        constraints = (
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_how="")
                | (Q(ended_at__isnull=False) & ~Q(ended_how="")),
                name="practice_ends_somehow",
            ),
        )

    @override
    def __str__(self) -> str:
        return f"{self.fault} {self.begun_at:%Y-%m-%d}"


class PracticeAct(models.Model):
    """What a learner did beside the record: looked at an instrument, let time pass, asked."""

    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="acts")
    kind = models.CharField(max_length=20)
    at = models.DateTimeField()
    values = models.JSONField()

    class Meta:
        ordering = ("practice_id", "id")

    @override
    def __str__(self) -> str:
        return f"{self.kind} {self.at:%Y-%m-%d %H:%M}"


class ChainHead(models.Model):
    """How long a job's chain is and where it ends, signed; a cut tail shows against it.

    The first `unsigned` entries are older than signatures.
    """

    job = models.OneToOneField(Job, on_delete=models.PROTECT, primary_key=True)
    count = models.PositiveIntegerField()
    hash = models.CharField(max_length=64)
    unsigned = models.PositiveIntegerField(default=0)
    key_id = models.CharField(max_length=16, blank=True, default="")
    signature = models.BinaryField(null=True, blank=True)

    @override
    def __str__(self) -> str:
        return f"{self.count} {self.hash[:12]}"


class Entry(models.Model):
    """One entry of a job: the canonical bytes, and the columns that repeat them for reading."""

    key = models.UUIDField(primary_key=True)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="+")
    seq = models.PositiveIntegerField()
    kind = models.CharField(max_length=20)
    item = models.CharField(max_length=120, blank=True)
    qualifier = models.CharField(max_length=300, blank=True)
    value = models.JSONField(null=True)
    person = models.UUIDField()
    at = models.DateTimeField()
    effect = models.CharField(max_length=20, blank=True)
    paper = models.JSONField(null=True, blank=True)
    canonical = models.BinaryField()
    previous = models.CharField(max_length=64)
    hash = models.CharField(max_length=64, unique=True)
    signature = models.BinaryField(null=True, blank=True)

    class Meta:
        ordering = ("job", "seq")
        verbose_name_plural = "entries"
        constraints = (
            models.UniqueConstraint(fields=("job", "seq"), name="entry_once_a_place"),
            models.CheckConstraint(condition=Q(seq__gte=1), name="entry_seq_from_one"),
        )

    @override
    def __str__(self) -> str:
        return f"{self.seq} {self.kind} {self.item}".strip()


class Verdict(models.Model):
    """What was answered to an entry sent by a tablet, so that sending it again is harmless."""

    key = models.UUIDField(primary_key=True)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="+")
    fingerprint = models.CharField(max_length=64)
    verdict = models.CharField(max_length=10)
    answer = models.JSONField()
    at = models.DateTimeField()
    device = models.CharField(max_length=64, blank=True)
    device_seq = models.PositiveBigIntegerField(default=0)

    class Meta:
        indexes = (
            models.Index(
                fields=("device", "device_seq"),
                condition=~Q(device=""),
                name="verdict_of_device",
            ),
        )
        constraints = (
            models.CheckConstraint(
                condition=Q(verdict__in=("applied", "refused")), name="verdict_is_final"
            ),
        )

    @override
    def __str__(self) -> str:
        return f"{self.key} {self.verdict}"


class Tablet(models.Model):
    """A tablet that sends entries: its name, when it was heard, how many entries it made."""

    device = models.CharField(primary_key=True, max_length=64)
    name = models.CharField(max_length=40, blank=True)
    first_at = models.DateTimeField()
    last_at = models.DateTimeField()
    made = models.PositiveBigIntegerField(default=0)
    whole_up_to = models.PositiveBigIntegerField(default=0)
    missing_since = models.DateTimeField(null=True, blank=True)
    last_person = models.UUIDField(null=True, blank=True)

    class Meta:
        ordering = ("first_at", "device")

    @override
    def __str__(self) -> str:
        return self.name or self.device[:8]


class DroppedEntry(models.Model):
    """A running number of a tablet whose entry somebody took out of its queue: it will not come."""

    tablet = models.ForeignKey(Tablet, on_delete=models.PROTECT, related_name="dropped")
    device_seq = models.PositiveBigIntegerField()
    at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "dropped entries"
        constraints = (
            models.UniqueConstraint(fields=("tablet", "device_seq"), name="dropped_once"),
        )

    @override
    def __str__(self) -> str:
        return f"{self.tablet_id[:8]} {self.device_seq}"


class SetAside(models.Model):
    """Entries of a tablet for which nobody waits any more, with the reason; never changed.

    ``numbers`` are the ranges of running numbers, each with its first and last.
    """

    key = models.UUIDField(primary_key=True)
    tablet = models.ForeignKey(Tablet, on_delete=models.PROTECT, related_name="set_aside")
    at = models.DateTimeField()
    person = models.UUIDField()
    reason = models.TextField()
    made = models.PositiveBigIntegerField()
    numbers = models.JSONField()

    class Meta:
        ordering = ("-at", "key")
        verbose_name_plural = "entries set aside"

    @override
    def __str__(self) -> str:
        return f"{self.tablet_id[:8]} {self.at:%Y-%m-%d}"


class WrongSeal(models.Model):
    """A sealed PIN that was tried and was wrong: sent again, it is not counted again."""

    sha256 = models.CharField(primary_key=True, max_length=64)
    at = models.DateTimeField(db_index=True)

    @override
    def __str__(self) -> str:
        return self.sha256[:12]


class PersonalDatum(models.Model):
    """Words about a person, kept outside the chain so that they can be erased on request."""

    ref = models.UUIDField(primary_key=True, default=uuid.uuid4)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="+")
    item = models.CharField(max_length=120)
    text = models.TextField(blank=True)
    salt = models.CharField(max_length=64)
    sha256 = models.CharField(max_length=64)
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "personal data"

    @override
    def __str__(self) -> str:
        return f"{self.item} ({'erased' if self.erased_at else 'kept'})"


class Attachment(models.Model):
    """A picture or file of a job by its digest; the bytes lie in the data folder."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="+")
    sha256 = models.CharField(max_length=64)
    media_type = models.CharField(max_length=40)
    size_bytes = models.PositiveIntegerField()
    stored_by = models.UUIDField()
    stored_at = models.DateTimeField()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("job", "sha256"), name="attachment_once_a_job"),
        )

    @override
    def __str__(self) -> str:
        return f"{self.media_type} {self.sha256[:12]}"


class QuarantineWatch(models.Model):
    """The temperature watch on a module that was taken out; it outlasts the job it came from.

    What the job says of the module is repeated here by the door as long as the watch runs.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="+")
    module = models.CharField(max_length=60)
    serial = models.TextField(blank=True)
    place = models.TextField(blank=True)
    quarantine_class = models.CharField(max_length=20, blank=True)
    condition = models.CharField(max_length=20, blank=True)
    started_at = models.DateTimeField()
    started_by = models.UUIDField()
    source = models.UUIDField(unique=True)
    struck = models.BooleanField(default=False)
    ended_at = models.DateTimeField(null=True, blank=True, db_index=True)
    ended_by = models.UUIDField(null=True, blank=True)
    ended_how = models.CharField(max_length=20, blank=True)
    ended_to = models.CharField(max_length=200, blank=True)
    ended_note = models.TextField(blank=True)
    ended_key = models.UUIDField(null=True, blank=True)
    ended_digest = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ("started_at", "module")
        verbose_name_plural = "quarantine watches"
        constraints = (
            models.UniqueConstraint(
                fields=("job", "module"),
                condition=Q(ended_at__isnull=True),
                name="one_running_watch_a_module",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_by__isnull=True, ended_how="")
                | (Q(ended_at__isnull=False, ended_by__isnull=False) & ~Q(ended_how="")),
                name="watch_ends_by_somebody",
            ),
        )

    @override
    def __str__(self) -> str:
        return f"{self.module} {self.serial}".strip()


class QuarantineCheck(models.Model):
    """One check of a removed module, chained to the one before it; never changed or deleted."""

    key = models.UUIDField(primary_key=True)
    watch = models.ForeignKey(QuarantineWatch, on_delete=models.PROTECT, related_name="checks")
    seq = models.PositiveIntegerField()
    at = models.DateTimeField()
    person = models.UUIDField()
    values = models.JSONField()
    digest = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ("watch_id", "seq")
        constraints = (models.UniqueConstraint(fields=("watch", "seq"), name="check_once_a_place"),)

    @override
    def __str__(self) -> str:
        return f"{self.seq} {self.at:%Y-%m-%d %H:%M}"


class DeskEvent(models.Model):
    """What was written at the desk of a job, or for the next shift: by whom, when; only ever added.

    `words` may be about a person; they are the one thing that is ever taken away, on request.
    """

    key = models.UUIDField(unique=True)
    job = models.ForeignKey(
        Job, on_delete=models.PROTECT, related_name="desk_events", null=True, blank=True
    )
    kind = models.CharField(max_length=20)
    at = models.DateTimeField(db_index=True)
    person = models.UUIDField()
    values = models.JSONField(default=dict, blank=True)
    words = models.JSONField(default=dict, blank=True)
    due_on = models.DateField(null=True, blank=True, db_index=True)
    about = models.UUIDField(null=True, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("id",)

    @override
    def __str__(self) -> str:
        return f"{self.kind} {self.at:%Y-%m-%d %H:%M}"
