import uuid

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """Who holds a spare, and what was corrected about a pack."""

    dependencies = [("packs", "0004_pack_drafts")]

    operations = [
        migrations.AddField("Spare", "rest_h", models.FloatField(blank=True, null=True)),
        migrations.AddField(
            "Spare",
            "reserved_for",
            models.CharField(blank=True, db_index=True, default="", max_length=20),
        ),
        migrations.AddField(
            "Spare", "module", models.CharField(blank=True, default="", max_length=40)
        ),
        migrations.AddConstraint(
            "Spare",
            models.CheckConstraint(
                condition=models.Q(
                    ("reserved_for", ""), ("state__in", ("reserved", "fitted")), _connector="OR"
                ),
                name="spare_held_only_where_used",
            ),
        ),
        migrations.AddField(
            "SpareEvent", "job", models.CharField(blank=True, default="", max_length=20)
        ),
        migrations.AddField(
            "SpareEvent", "module", models.CharField(blank=True, default="", max_length=40)
        ),
        migrations.CreateModel(
            name="PhysicalPackEvent",
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
                ("values", models.JSONField(blank=True, default=dict)),
                ("note", models.CharField(blank=True, default="", max_length=500)),
                ("person_id", models.UUIDField(blank=True, null=True)),
                (
                    "physical_pack",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="events",
                        to="packs.physicalpack",
                    ),
                ),
            ],
            options={
                "ordering": ("physical_pack", "number"),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("physical_pack", "number"),
                        name="physical_pack_event_number_unique",
                    ),
                ],
            },
        ),
    ]
