import uuid

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("packs", "0003_spares")]

    operations = [
        migrations.CreateModel(
            name="PackDraft",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("slug", models.CharField(max_length=60)),
                ("name", models.CharField(max_length=500)),
                ("content", models.JSONField(default=dict)),
                ("base_number", models.PositiveIntegerField(blank=True, null=True)),
                ("version", models.PositiveIntegerField(default=1)),
                ("touched", models.JSONField(blank=True, default=dict)),
                ("changed_at", models.DateTimeField()),
                ("changed_by", models.UUIDField(blank=True, null=True)),
                (
                    "based_on",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="drafts",
                        to="packs.packrevision",
                    ),
                ),
                (
                    "published",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="packs.packrevision",
                    ),
                ),
            ],
            options={
                "ordering": ("name", "id"),
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("published", None)),
                        fields=("slug",),
                        name="pack_draft_one_of_a_kind",
                    ),
                ],
            },
        ),
    ]
