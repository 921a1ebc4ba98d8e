"""The row of the shop, with its own identifier, so that every record can name its workshop."""

import uuid

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def add_row(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Add the row where it is missing."""
    shop = apps.get_model("workshop", "Shop")
    rows = shop._default_manager.using(schema_editor.connection.alias)
    rows.get_or_create(pk=1, defaults={"workshop_id": uuid.uuid4()})


class Migration(migrations.Migration):
    dependencies = [("workshop", "0001_registers")]

    # Going back leaves the row: the table goes with the migration before, and the identifier of
    # a workshop must not be lost on the way.
    operations = [migrations.RunPython(add_row, migrations.RunPython.noop)]
