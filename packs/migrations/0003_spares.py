import uuid

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("packs", "0002_physical_packs")]

    operations = [
        migrations.CreateModel(
            name="Spare",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("serial", models.CharField(max_length=80, unique=True)),
                ("part", models.CharField(max_length=120)),
                ("chemistry", models.CharField(max_length=20)),
                ("cells", models.PositiveSmallIntegerField()),
                ("capacity_ah", models.FloatField(blank=True, null=True)),
                ("resistance_mohm", models.FloatField(blank=True, null=True)),
                ("cell_v", models.FloatField(blank=True, null=True)),
                ("tested_on", models.DateField(blank=True, null=True)),
                ("insulation_ohm", models.FloatField(blank=True, null=True)),
                ("insulation_comparator", models.CharField(default="=", max_length=1)),
                ("insulation_test_v", models.FloatField(blank=True, null=True)),
                ("provenance", models.TextField(max_length=1000)),
                ("place", models.CharField(blank=True, default="", max_length=120)),
                ("state", models.CharField(max_length=20)),
            ],
            options={
                "ordering": ("part", "serial"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("serial", ""), _negated=True), name="spare_has_serial"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("cells__gte", 1)), name="spare_has_cells"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("capacity_ah__isnull", True), ("capacity_ah__gt", 0), _connector="OR"
                        ),
                        name="spare_capacity_above_zero",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("resistance_mohm__isnull", True),
                            ("resistance_mohm__gt", 0),
                            _connector="OR",
                        ),
                        name="spare_resistance_above_zero",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SpareEvent",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                ("at", models.DateTimeField()),
                ("kind", models.CharField(max_length=20)),
                ("state", models.CharField(max_length=20)),
                ("place", models.CharField(blank=True, default="", max_length=120)),
                ("values", models.JSONField(blank=True, default=dict)),
                ("note", models.CharField(blank=True, default="", max_length=500)),
                ("person_id", models.UUIDField(blank=True, null=True)),
                (
                    "spare",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="events",
                        to="packs.spare",
                    ),
                ),
            ],
            options={
                "ordering": ("spare", "number"),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("spare", "number"), name="spare_event_number_unique"
                    ),
                ],
            },
        ),
    ]
