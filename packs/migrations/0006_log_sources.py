from django.db import migrations, models


class Migration(migrations.Migration):
    """Which column is what in the logs of each source, remembered for the next one."""

    dependencies = [("packs", "0005_register_history")]

    operations = [
        migrations.CreateModel(
            name="LogSource",
            fields=[
                ("name", models.CharField(max_length=200, primary_key=True, serialize=False)),
                ("columns", models.JSONField()),
                ("current_sign", models.CharField(max_length=20)),
                ("changed_at", models.DateTimeField()),
                ("changed_by", models.UUIDField(blank=True, null=True)),
            ],
            options={
                "ordering": ("-changed_at", "name"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("name", ""), _negated=True), name="log_source_has_name"
                    )
                ],
            },
        ),
    ]
