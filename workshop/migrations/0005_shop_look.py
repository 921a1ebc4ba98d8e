"""What papers and screens of this shop look like."""

import django.db.models.deletion
from django.db import migrations, models


def _words(length: int) -> "models.CharField[str, str]":
    return models.CharField(blank=True, default="", max_length=length)


class Migration(migrations.Migration):
    dependencies = (("workshop", "0004_equipment_certificates"),)
    operations = (
        migrations.AddField(model_name="shop", name="tax_number", field=_words(120)),
        migrations.AddField(
            model_name="shop",
            name="opening_hours",
            field=models.TextField(blank=True, default="", max_length=300),
        ),
        migrations.AddField(model_name="shop", name="torque_unit", field=_words(8)),
        migrations.AddField(model_name="shop", name="pressure_unit", field=_words(8)),
        migrations.AddField(model_name="shop", name="distance_unit", field=_words(8)),
        migrations.AddField(
            model_name="shop",
            name="logo",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="workshop.certificate",
            ),
        ),
    )
