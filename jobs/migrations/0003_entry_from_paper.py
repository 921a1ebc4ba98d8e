from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0002_entries_append_only")]

    # A column that may be empty is added without making the table anew, so the triggers stay.
    operations = [
        migrations.AddField(
            model_name="entry",
            name="paper",
            field=models.JSONField(blank=True, null=True),
        ),
    ]
