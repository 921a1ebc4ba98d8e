"""When the personal data of somebody who has left were erased."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = (("workshop", "0006_language"),)
    operations = (
        migrations.AddField(
            model_name="person",
            name="erased_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
    )
