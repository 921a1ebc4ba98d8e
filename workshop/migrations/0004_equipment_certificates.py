"""Certificates as files, and what was done to a row of a register, by whom and when."""

import uuid

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0003_shop_tax"),
    ]

    operations = [
        migrations.AddField(
            model_name="customer",
            name="erased_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.CreateModel(
            name="Certificate",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("sha256", models.CharField(max_length=64, unique=True)),
                ("media_type", models.CharField(max_length=40)),
                ("size_bytes", models.PositiveIntegerField()),
                ("stored_at", models.DateTimeField()),
                (
                    "stored_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="workshop.person",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="RegisterEvent",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("subject", models.UUIDField()),
                ("number", models.PositiveIntegerField()),
                ("kind", models.CharField(max_length=20)),
                ("values", models.JSONField(blank=True, default=dict)),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="workshop.person",
                    ),
                ),
                (
                    "file",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="workshop.certificate",
                    ),
                ),
            ],
            options={
                "ordering": ("subject", "number"),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("subject", "number"), name="register_event_number_unique"
                    )
                ],
            },
        ),
    ]
