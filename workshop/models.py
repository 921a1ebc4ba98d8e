"""Columns and constraints of the shop's registers; no rules and no queries.

Changes go through ``workshop.actions``, reading through ``workshop.queries``. What a role, a
qualification or a kind of equipment means lives in ``workshop.people`` and ``workshop.equipment``.
"""

import uuid
from decimal import Decimal

from django.db import models
from django.db.models import Q
from typing_extensions import override


class Shop(models.Model):
    """The one row that says which workshop this is."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    workshop_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField(max_length=120, default="")
    address = models.TextField(max_length=500, default="", blank=True)
    phone = models.CharField(max_length=40, default="", blank=True)
    email = models.CharField(max_length=200, default="", blank=True)
    number_prefix = models.CharField(max_length=8, default="W")
    time_zone = models.CharField(max_length=64, default="UTC")
    currency = models.CharField(max_length=3, default="EUR")
    tax_percent = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(0))
    warranty_text = models.TextField(max_length=2000, default="", blank=True)
    tax_number = models.CharField(max_length=120, default="", blank=True)
    opening_hours = models.TextField(max_length=300, default="", blank=True)
    torque_unit = models.CharField(max_length=8, default="", blank=True)
    pressure_unit = models.CharField(max_length=8, default="", blank=True)
    distance_unit = models.CharField(max_length=8, default="", blank=True)
    logo = models.ForeignKey(
        "Certificate", on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    language = models.CharField(max_length=8, default="en")
    only_enrolled = models.BooleanField(default=False)
    office_password = models.BooleanField(default=False)

    class Meta:
        constraints = (
            models.CheckConstraint(condition=Q(id=1), name="shop_is_one_row"),
            models.CheckConstraint(
                condition=Q(tax_percent__gte=0, tax_percent__lte=100),
                name="shop_tax_percent_within_0_to_100",
            ),
        )

    @override
    def __str__(self) -> str:
        return self.name or "Workshop"


class ShopLimit(models.Model):
    """A limit that this shop has set itself, with where it comes from."""

    key = models.CharField(max_length=60, primary_key=True)
    value = models.FloatField()
    unit = models.CharField(max_length=20, blank=True)
    kind = models.CharField(max_length=20)
    source = models.CharField(max_length=300)
    note = models.TextField(max_length=1000, default="", blank=True)
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey("Person", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = (
            models.CheckConstraint(condition=Q(value__gte=0), name="shop_limit_not_negative"),
        )

    @override
    def __str__(self) -> str:
        return self.key


class Person(models.Model):
    """Someone who works in the shop and signs with a PIN."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    display_name = models.CharField(max_length=120)
    short_name = models.CharField(max_length=24)
    role = models.CharField(max_length=20)
    pin_hash = models.CharField(max_length=200, default="", blank=True)
    pin_failures = models.PositiveIntegerField(default=0)
    pin_locked_until = models.DateTimeField(null=True, blank=True)
    password_hash = models.CharField(max_length=200, default="", blank=True)
    active = models.BooleanField(default=True)
    language = models.CharField(max_length=8, default="", blank=True)
    created_at = models.DateTimeField()
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("display_name", "id")
        constraints = (
            models.UniqueConstraint(
                fields=("short_name",), condition=Q(active=True), name="person_short_name_unique"
            ),
        )

    @override
    def __str__(self) -> str:
        return self.display_name


class Qualification(models.Model):
    """What a person may do, until when, and on what paper."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="qualifications")
    code = models.CharField(max_length=30)
    expires_on = models.DateField(null=True, blank=True)
    certificate = models.CharField(max_length=200, default="", blank=True)

    class Meta:
        ordering = ("code",)
        constraints = (
            models.UniqueConstraint(fields=("person", "code"), name="qualification_once_a_person"),
        )

    @override
    def __str__(self) -> str:
        return self.code


class Customer(models.Model):
    """Somebody whose vehicle or pack the shop works on."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, default="", blank=True)
    email = models.CharField(max_length=200, default="", blank=True)
    address = models.TextField(max_length=500, default="", blank=True)
    consent_at = models.DateTimeField(null=True, blank=True)
    note = models.TextField(max_length=1000, default="", blank=True)
    language = models.CharField(max_length=8, default="", blank=True)
    created_at = models.DateTimeField()
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("name", "id")

    @override
    def __str__(self) -> str:
        return self.name


class Vehicle(models.Model):
    """A vehicle, apart from the pack in it and from any one job.

    Plates move between vehicles and get mistyped, so neither plate nor VIN is unique here: the
    form warns and a person decides.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    plate = models.CharField(max_length=20, default="", blank=True, db_index=True)
    vin = models.CharField(max_length=17, default="", blank=True, db_index=True)
    make = models.CharField(max_length=60, default="", blank=True)
    model = models.CharField(max_length=60, default="", blank=True)
    year = models.PositiveSmallIntegerField(null=True, blank=True)
    body = models.CharField(max_length=60, default="", blank=True)
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, related_name="vehicles", null=True, blank=True
    )
    created_at = models.DateTimeField()

    class Meta:
        ordering = ("plate", "id")
        constraints = (
            models.CheckConstraint(
                condition=~Q(plate="") | ~Q(vin=""), name="vehicle_has_plate_or_vin"
            ),
        )

    @override
    def __str__(self) -> str:
        return self.plate or self.vin


class Equipment(models.Model):
    """An instrument, a pair of gloves, a tool: what the readings and the work rely on."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    label = models.CharField(max_length=20)
    kind = models.CharField(max_length=30, db_index=True)
    serial = models.CharField(max_length=60, default="", blank=True)
    ratings = models.JSONField(default=dict)
    tested_on = models.DateField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True)
    certificate = models.CharField(max_length=200, default="", blank=True)
    cycles = models.PositiveIntegerField(default=0)
    issued = models.BooleanField(default=False)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=300, default="", blank=True)
    created_at = models.DateTimeField()

    class Meta:
        ordering = ("kind", "label", "id")
        verbose_name_plural = "equipment"
        constraints = (
            models.UniqueConstraint(
                fields=("label",),
                condition=Q(withdrawn_at__isnull=True),
                name="equipment_label_unique_in_use",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True) | ~Q(withdrawn_reason=""),
                name="equipment_withdrawn_with_reason",
            ),
        )

    @override
    def __str__(self) -> str:
        return self.label


class Certificate(models.Model):
    """A file of the registers by its digest, a certificate or the shop's logo.

    The bytes lie in the data folder.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    sha256 = models.CharField(max_length=64, unique=True)
    media_type = models.CharField(max_length=40)
    size_bytes = models.PositiveIntegerField()
    stored_at = models.DateTimeField()
    stored_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    @override
    def __str__(self) -> str:
        return f"{self.media_type} {self.sha256[:12]}"


class RegisterEvent(models.Model):
    """Something that was done to a row of a register, by whom and when; only ever added.

    It holds no words about a customer, so that erasing the customer's row erases them.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    subject = models.UUIDField()
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=20)
    values = models.JSONField(default=dict, blank=True)
    file = models.ForeignKey(
        Certificate, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    at = models.DateTimeField()
    by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta:
        ordering = ("subject", "number")
        constraints = (
            models.UniqueConstraint(
                fields=("subject", "number"), name="register_event_number_unique"
            ),
        )

    @override
    def __str__(self) -> str:
        return f"{self.kind} {self.at:%Y-%m-%d}"


class SignIn(models.Model):
    """Something that happened to a way in: who, where, when, what; only ever added.

    It holds no PIN, no password and no network address.
    """

    id = models.BigAutoField(primary_key=True)
    at = models.DateTimeField(db_index=True)
    kind = models.CharField(max_length=20)
    person = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    place = models.CharField(max_length=48, default="", blank=True)
    by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ("-id",)

    @override
    def __str__(self) -> str:
        return f"{self.kind} {self.at:%Y-%m-%d %H:%M}"


class Device(models.Model):
    """A tablet or computer that this shop has taken in, known by a token that it keeps.

    The token itself is nowhere but on the device; a row is never deleted.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=60)
    token_digest = models.CharField(max_length=64, unique=True)
    enrolled_at = models.DateTimeField()
    enrolled_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    seen_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta:
        ordering = ("name", "enrolled_at")

    @override
    def __str__(self) -> str:
        return self.name


class DeviceCode(models.Model):
    """A code that takes in one device, for some minutes; only a digest of it is kept."""

    digest = models.CharField(max_length=64, primary_key=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    ends_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    wrong_codes = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ("-made_at",)

    @override
    def __str__(self) -> str:
        return f"code of {self.made_at:%Y-%m-%d %H:%M}"


class PlaceTries(models.Model):
    """Wrong PINs typed at one place, for whomever: beside the count that each person has."""

    place = models.CharField(max_length=48, primary_key=True)
    people = models.JSONField(default=list)
    last_at = models.DateTimeField()
    locked_until = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "tries at places"

    @override
    def __str__(self) -> str:
        return self.place


class RegisterMark(models.Model):
    """One mark that the database draws anew with every change of a register that is kept."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    mark = models.BigIntegerField(default=0)

    class Meta:
        constraints = (models.CheckConstraint(condition=Q(id=1), name="register_mark_is_one_row"),)

    @override
    def __str__(self) -> str:
        return str(self.mark)
