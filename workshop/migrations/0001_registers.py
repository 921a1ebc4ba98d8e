"""Columns and constraints of the shop's registers."""

import uuid

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="Customer",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("name", models.CharField(max_length=120)),
                ("phone", models.CharField(blank=True, default="", max_length=40)),
                ("email", models.CharField(blank=True, default="", max_length=200)),
                ("address", models.TextField(blank=True, default="", max_length=500)),
                ("consent_at", models.DateTimeField(blank=True, null=True)),
                ("note", models.TextField(blank=True, default="", max_length=1000)),
                ("created_at", models.DateTimeField()),
            ],
            options={
                "ordering": ("name", "id"),
            },
        ),
        migrations.CreateModel(
            name="Equipment",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("label", models.CharField(max_length=20)),
                ("kind", models.CharField(db_index=True, max_length=30)),
                ("serial", models.CharField(blank=True, default="", max_length=60)),
                ("ratings", models.JSONField(default=dict)),
                ("tested_on", models.DateField(blank=True, null=True)),
                ("due_on", models.DateField(blank=True, null=True)),
                ("certificate", models.CharField(blank=True, default="", max_length=200)),
                ("cycles", models.PositiveIntegerField(default=0)),
                ("issued", models.BooleanField(default=False)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, default="", max_length=300)),
                ("created_at", models.DateTimeField()),
            ],
            options={
                "verbose_name_plural": "equipment",
                "ordering": ("kind", "label", "id"),
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at__isnull", True)),
                        fields=("label",),
                        name="equipment_label_unique_in_use",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("withdrawn_at__isnull", True),
                            models.Q(("withdrawn_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="equipment_withdrawn_with_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Person",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("display_name", models.CharField(max_length=120)),
                ("short_name", models.CharField(max_length=24)),
                ("role", models.CharField(max_length=20)),
                ("pin_hash", models.CharField(blank=True, default="", max_length=200)),
                ("pin_failures", models.PositiveIntegerField(default=0)),
                ("pin_locked_until", models.DateTimeField(blank=True, null=True)),
                ("active", models.BooleanField(default=True)),
                ("created_at", models.DateTimeField()),
            ],
            options={
                "ordering": ("display_name", "id"),
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("active", True)),
                        fields=("short_name",),
                        name="person_short_name_unique",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Shop",
            fields=[
                (
                    "id",
                    models.PositiveSmallIntegerField(
                        default=1, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("workshop_id", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("name", models.CharField(default="", max_length=120)),
                ("address", models.TextField(blank=True, default="", max_length=500)),
                ("phone", models.CharField(blank=True, default="", max_length=40)),
                ("email", models.CharField(blank=True, default="", max_length=200)),
                ("number_prefix", models.CharField(default="W", max_length=8)),
                ("time_zone", models.CharField(default="UTC", max_length=64)),
                ("currency", models.CharField(default="EUR", max_length=3)),
                ("warranty_text", models.TextField(blank=True, default="", max_length=2000)),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("id", 1)), name="shop_is_one_row")
                ],
            },
        ),
        migrations.CreateModel(
            name="Qualification",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("code", models.CharField(max_length=30)),
                ("expires_on", models.DateField(blank=True, null=True)),
                ("certificate", models.CharField(blank=True, default="", max_length=200)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="qualifications",
                        to="workshop.person",
                    ),
                ),
            ],
            options={
                "ordering": ("code",),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("person", "code"), name="qualification_once_a_person"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ShopLimit",
            fields=[
                ("key", models.CharField(max_length=60, primary_key=True, serialize=False)),
                ("value", models.FloatField()),
                ("unit", models.CharField(blank=True, max_length=20)),
                ("kind", models.CharField(max_length=20)),
                ("source", models.CharField(max_length=300)),
                ("note", models.TextField(blank=True, default="", max_length=1000)),
                ("changed_at", models.DateTimeField()),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="workshop.person",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("value__gte", 0)), name="shop_limit_not_negative"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Vehicle",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("plate", models.CharField(blank=True, db_index=True, default="", max_length=20)),
                ("vin", models.CharField(blank=True, db_index=True, default="", max_length=17)),
                ("make", models.CharField(blank=True, default="", max_length=60)),
                ("model", models.CharField(blank=True, default="", max_length=60)),
                ("year", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("body", models.CharField(blank=True, default="", max_length=60)),
                ("created_at", models.DateTimeField()),
                (
                    "customer",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="vehicles",
                        to="workshop.customer",
                    ),
                ),
            ],
            options={
                "ordering": ("plate", "id"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("plate", ""), _negated=True),
                            models.Q(("vin", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="vehicle_has_plate_or_vin",
                    )
                ],
            },
        ),
    ]
