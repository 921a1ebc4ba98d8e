"""The language of screens, and of a customer's papers."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = (("workshop", "0005_shop_look"),)
    operations = (
        migrations.AddField(
            model_name="shop",
            name="language",
            field=models.CharField(default="en", max_length=8),
        ),
        migrations.AddField(
            model_name="person",
            name="language",
            field=models.CharField(blank=True, default="", max_length=8),
        ),
        migrations.AddField(
            model_name="customer",
            name="language",
            field=models.CharField(blank=True, default="", max_length=8),
        ),
    )
