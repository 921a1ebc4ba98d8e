"""The end of each chain is signed, and says how many entries are older than signatures."""

from django.db import migrations, models


class Migration(migrations.Migration):
    """Add the columns; `guard` signs what was there before."""

    dependencies = (("jobs", "0011_disposal"),)
    operations = (
        migrations.AddField(
            model_name="chainhead",
            name="unsigned",
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AddField(
            model_name="chainhead",
            name="key_id",
            field=models.CharField(blank=True, default="", max_length=16),
        ),
        migrations.AddField(
            model_name="chainhead",
            name="signature",
            field=models.BinaryField(blank=True, null=True),
        ),
    )
