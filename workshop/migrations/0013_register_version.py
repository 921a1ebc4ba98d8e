"""A table for the one number by which changes of the registers are counted."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = (("workshop", "0012_sign_ins_chained"),)

    operations = (
        migrations.CreateModel(
            name="RegisterVersion",
            fields=[
                (
                    "id",
                    models.PositiveSmallIntegerField(
                        default=1, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("number", models.BigIntegerField(default=0)),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("id", 1)), name="register_version_is_one_row"
                    )
                ],
            },
        ),
    )
