"""The tax that the shop's quotations carry where a line says nothing else."""

from decimal import Decimal

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("workshop", "0002_shop_row")]

    operations = [
        migrations.AddField(
            model_name="shop",
            name="tax_percent",
            field=models.DecimalField(decimal_places=2, default=Decimal(0), max_digits=5),
        ),
        migrations.AddConstraint(
            model_name="shop",
            constraint=models.CheckConstraint(
                condition=Q(tax_percent__gte=0, tax_percent__lte=100),
                name="shop_tax_percent_within_0_to_100",
            ),
        ),
    ]
