import uuid

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="Pack",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("slug", models.CharField(max_length=60, unique=True)),
                ("name", models.CharField(max_length=120)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={"ordering": ("name", "id")},
        ),
        migrations.CreateModel(
            name="PackRevision",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                ("toml", models.TextField()),
                ("sha256", models.CharField(max_length=64)),
                ("created_at", models.DateTimeField()),
                ("created_by", models.UUIDField(blank=True, null=True)),
                ("note", models.CharField(blank=True, default="", max_length=500)),
                (
                    "pack",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="revisions",
                        to="packs.pack",
                    ),
                ),
            ],
            options={
                "ordering": ("pack", "number"),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("pack", "number"), name="pack_revision_number_unique"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("number__gte", 1)), name="pack_revision_from_one"
                    ),
                ],
            },
        ),
    ]
