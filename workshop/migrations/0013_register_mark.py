"""A table for the one mark by which changes of the registers are known."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = (("workshop", "0012_sign_ins_chained"),)

    operations = (
        migrations.CreateModel(
            name="RegisterMark",
            fields=[
                (
                    "id",
                    models.PositiveSmallIntegerField(
                        default=1, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("mark", models.BigIntegerField(default=0)),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("id", 1)), name="register_mark_is_one_row"
                    )
                ],
            },
        ),
    )
