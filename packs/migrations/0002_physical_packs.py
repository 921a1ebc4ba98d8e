import uuid

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("packs", "0001_pack_definitions")]

    operations = [
        migrations.CreateModel(
            name="PhysicalPack",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("serial", models.CharField(max_length=80)),
                ("note", models.CharField(blank=True, default="", max_length=500)),
                (
                    "pack",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="physical_packs",
                        to="packs.pack",
                    ),
                ),
            ],
            options={
                "ordering": ("serial", "id"),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("serial", "pack"), name="physical_pack_serial_unique"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("serial", ""), _negated=True),
                        name="physical_pack_has_serial",
                    ),
                ],
            },
        ),
    ]
