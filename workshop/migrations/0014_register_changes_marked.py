"""A mark that the database itself draws anew with every change of shop, limits and people.

On PostgreSQL at the end of the transaction: nothing is locked after the one row of the mark.
"""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import ProjectState
from typing_extensions import override

TABLES = ("workshop_shop", "workshop_shoplimit", "workshop_person", "workshop_qualification")
ACTS = ("insert", "update", "delete")
MARK = "UPDATE workshop_registermark SET mark"
FUNCTION = f"""
    CREATE OR REPLACE FUNCTION workshop_register_changed() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN {MARK} = floor(random() * 9e18)::bigint; RETURN NULL; END $$
"""


def add_row(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Add the one row."""
    mark = apps.get_model("workshop", "RegisterMark")
    mark._default_manager.using(schema_editor.connection.alias).get_or_create(pk=1)


class Marked(migrations.RunSQL):
    """Marks changes, in the words of the database that is there."""

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
                    f"CREATE CONSTRAINT TRIGGER {table}_changed"
                    f" AFTER INSERT OR DELETE OR UPDATE ON {table}"
                    " DEFERRABLE INITIALLY DEFERRED"
                    " FOR EACH ROW EXECUTE FUNCTION workshop_register_changed()"
                )
            return
        for table in TABLES:
            for act in ACTS:
                schema_editor.execute(
                    f"CREATE TRIGGER IF NOT EXISTS {table}_changed_{act} AFTER {act.upper()}"
                    f" ON {table} BEGIN {MARK} = random(); END"
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
    dependencies = (("workshop", "0013_register_mark"),)

    operations = (migrations.RunPython(add_row, migrations.RunPython.noop), Marked())
