"""A number that the database itself counts up with every change of shop, limits and people."""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import ProjectState
from typing_extensions import override

TABLES = ("workshop_shop", "workshop_shoplimit", "workshop_person", "workshop_qualification")
ACTS = ("insert", "update", "delete")
COUNTED = "UPDATE workshop_registerversion SET number = number + 1"
FUNCTION = f"""
    CREATE OR REPLACE FUNCTION workshop_register_changed() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN {COUNTED}; RETURN NULL; END $$
"""


def add_row(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Add the one row."""
    version = apps.get_model("workshop", "RegisterVersion")
    version._default_manager.using(schema_editor.connection.alias).get_or_create(pk=1)


class Counted(migrations.RunSQL):
    """Counts changes, in the words of the database that is there."""

    def __init__(self) -> None:
        super().__init__("", "")

    @override
    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(FUNCTION)
            for table in TABLES:
                schema_editor.execute(
                    f"CREATE OR REPLACE TRIGGER {table}_changed"
                    f" AFTER INSERT OR DELETE OR UPDATE OR TRUNCATE ON {table}"
                    " FOR EACH STATEMENT EXECUTE FUNCTION workshop_register_changed()"
                )
            return
        for table in TABLES:
            for act in ACTS:
                schema_editor.execute(
                    f"CREATE TRIGGER IF NOT EXISTS {table}_changed_{act} AFTER {act.upper()}"
                    f" ON {table} BEGIN {COUNTED}; END"
                )

    @override
    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        for table in TABLES:
            if schema_editor.connection.vendor == "postgresql":
                schema_editor.execute(f"DROP TRIGGER IF EXISTS {table}_changed ON {table}")
                continue
            for act in ACTS:
                schema_editor.execute(f"DROP TRIGGER IF EXISTS {table}_changed_{act}")


class Migration(migrations.Migration):
    dependencies = (("workshop", "0013_register_version"),)

    operations = (migrations.RunPython(add_row, migrations.RunPython.noop), Counted())
