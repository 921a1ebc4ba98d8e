import uuid

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("jobs", "0003_entry_from_paper")]

    operations = [
        migrations.CreateModel(
            name="QuarantineWatch",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("module", models.CharField(max_length=60)),
                ("serial", models.TextField(blank=True)),
                ("place", models.TextField(blank=True)),
                ("quarantine_class", models.CharField(blank=True, max_length=20)),
                ("condition", models.CharField(blank=True, max_length=20)),
                ("started_at", models.DateTimeField()),
                ("started_by", models.UUIDField()),
                ("source", models.UUIDField(unique=True)),
                ("struck", models.BooleanField(default=False)),
                ("ended_at", models.DateTimeField(blank=True, db_index=True, null=True)),
                ("ended_by", models.UUIDField(blank=True, null=True)),
                ("ended_how", models.CharField(blank=True, max_length=20)),
                ("ended_to", models.CharField(blank=True, max_length=200)),
                ("ended_note", models.TextField(blank=True)),
                ("ended_key", models.UUIDField(blank=True, null=True)),
                ("ended_digest", models.CharField(blank=True, max_length=64)),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="jobs.job"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "quarantine watches",
                "ordering": ("started_at", "module"),
            },
        ),
        migrations.CreateModel(
            name="QuarantineCheck",
            fields=[
                ("key", models.UUIDField(primary_key=True, serialize=False)),
                ("seq", models.PositiveIntegerField()),
                ("at", models.DateTimeField()),
                ("person", models.UUIDField()),
                ("values", models.JSONField()),
                ("digest", models.CharField(max_length=64, unique=True)),
                (
                    "watch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="checks",
                        to="jobs.quarantinewatch",
                    ),
                ),
            ],
            options={"ordering": ("watch_id", "seq")},
        ),
        migrations.AddConstraint(
            model_name="quarantinewatch",
            constraint=models.UniqueConstraint(
                condition=Q(ended_at__isnull=True),
                fields=("job", "module"),
                name="one_running_watch_a_module",
            ),
        ),
        migrations.AddConstraint(
            model_name="quarantinewatch",
            constraint=models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_by__isnull=True, ended_how="")
                | (Q(ended_at__isnull=False, ended_by__isnull=False) & ~Q(ended_how="")),
                name="watch_ends_by_somebody",
            ),
        ),
        migrations.AddConstraint(
            model_name="quarantinecheck",
            constraint=models.UniqueConstraint(fields=("watch", "seq"), name="check_once_a_place"),
        ),
    ]
