import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("jobs", "0006_practice_jobs"),
    ]

    operations = [
        migrations.CreateModel(
            name="DroppedEntry",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("device_seq", models.PositiveBigIntegerField()),
                ("at", models.DateTimeField()),
            ],
            options={
                "verbose_name_plural": "dropped entries",
            },
        ),
        migrations.CreateModel(
            name="Tablet",
            fields=[
                ("device", models.CharField(max_length=64, primary_key=True, serialize=False)),
                ("name", models.CharField(blank=True, max_length=40)),
                ("first_at", models.DateTimeField()),
                ("last_at", models.DateTimeField()),
                ("made", models.PositiveBigIntegerField(default=0)),
                ("whole_up_to", models.PositiveBigIntegerField(default=0)),
                ("missing_since", models.DateTimeField(blank=True, null=True)),
                ("last_person", models.UUIDField(blank=True, null=True)),
            ],
            options={
                "ordering": ("first_at", "device"),
            },
        ),
        migrations.AddField(
            model_name="verdict",
            name="device",
            field=models.CharField(blank=True, max_length=64),
        ),
        migrations.AddField(
            model_name="verdict",
            name="device_seq",
            field=models.PositiveBigIntegerField(default=0),
        ),
        migrations.AddIndex(
            model_name="verdict",
            index=models.Index(
                condition=models.Q(("device", ""), _negated=True),
                fields=["device", "device_seq"],
                name="verdict_of_device",
            ),
        ),
        migrations.AddField(
            model_name="droppedentry",
            name="tablet",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="dropped",
                to="jobs.tablet",
            ),
        ),
        migrations.AddConstraint(
            model_name="droppedentry",
            constraint=models.UniqueConstraint(
                fields=("tablet", "device_seq"), name="dropped_once"
            ),
        ),
    ]
