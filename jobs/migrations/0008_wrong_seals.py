from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("jobs", "0007_tablets"),
    ]

    operations = [
        migrations.CreateModel(
            name="WrongSeal",
            fields=[
                ("sha256", models.CharField(max_length=64, primary_key=True, serialize=False)),
                ("at", models.DateTimeField(db_index=True)),
            ],
        ),
    ]
