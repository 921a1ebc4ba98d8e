import django.db.models.deletion
from django.db import migrations, models

VEHICLE_OR_PACK = models.Q(vehicle__isnull=False) | models.Q(physical_pack__isnull=False)


class Migration(migrations.Migration):
    """Goes back only while there is no practice job: its entries are never deleted."""

    dependencies = [
        ("jobs", "0005_quarantine_watch_not_deleted"),
        ("packs", "0005_register_history"),
        ("workshop", "0004_equipment_certificates"),
    ]

    operations = [
        migrations.RemoveConstraint(model_name="job", name="job_has_vehicle_or_pack"),
        migrations.AddField(
            model_name="job",
            name="practice",
            field=models.BooleanField(db_index=True, default=False),
        ),
        migrations.AlterField(
            model_name="job",
            name="customer",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="workshop.customer",
            ),
        ),
        migrations.AddConstraint(
            model_name="job",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    practice=True,
                    customer__isnull=True,
                    vehicle__isnull=True,
                    physical_pack__isnull=True,
                )
                | (models.Q(practice=False, customer__isnull=False) & VEHICLE_OR_PACK),
                name="job_has_vehicle_or_pack",
            ),
        ),
        migrations.CreateModel(
            name="Practice",
            fields=[
                (
                    "job",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        primary_key=True,
                        related_name="practice_run",
                        serialize=False,
                        to="jobs.job",
                    ),
                ),
                ("learner", models.UUIDField(db_index=True)),
                ("revision", models.UUIDField()),
                ("seed", models.PositiveIntegerField()),
                ("asked", models.CharField(blank=True, max_length=20)),
                ("fault", models.CharField(max_length=20)),
                ("ahead_s", models.PositiveBigIntegerField(default=0)),
                ("begun_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                ("ended_how", models.CharField(blank=True, max_length=20)),
                ("score", models.JSONField(blank=True, null=True)),
            ],
            options={
                "ordering": ("-begun_at",),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(ended_at__isnull=True, ended_how="")
                        | (models.Q(ended_at__isnull=False) & ~models.Q(ended_how="")),
                        name="practice_ends_somehow",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="PracticeAct",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("kind", models.CharField(max_length=20)),
                ("at", models.DateTimeField()),
                ("values", models.JSONField()),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="acts",
                        to="jobs.practice",
                    ),
                ),
            ],
            options={"ordering": ("practice_id", "id")},
        ),
    ]
