"""A tablet whose missing entries were set aside, with the reason."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import ProjectState
from typing_extensions import override

SQLITE = (
    """
    CREATE TRIGGER IF NOT EXISTS jobs_setaside_no_update BEFORE UPDATE ON jobs_setaside
    BEGIN SELECT RAISE(ABORT, 'what was set aside stays written'); END
    """,
    """
    CREATE TRIGGER IF NOT EXISTS jobs_setaside_no_delete BEFORE DELETE ON jobs_setaside
    BEGIN SELECT RAISE(ABORT, 'what was set aside stays written'); END
    """,
    """
    CREATE TRIGGER IF NOT EXISTS jobs_setaside_no_replace BEFORE INSERT ON jobs_setaside
    WHEN EXISTS (SELECT 1 FROM jobs_setaside WHERE "key" = NEW."key")
    BEGIN SELECT RAISE(ABORT, 'what was set aside stays written'); END
    """,
)
POSTGRESQL = (
    """
    CREATE OR REPLACE FUNCTION jobs_setaside_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'what was set aside stays written'
        USING ERRCODE = 'integrity_constraint_violation'; END $$
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_setaside_no_update BEFORE UPDATE ON jobs_setaside
    FOR EACH ROW EXECUTE FUNCTION jobs_setaside_refuse()
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_setaside_no_delete BEFORE DELETE ON jobs_setaside
    FOR EACH ROW EXECUTE FUNCTION jobs_setaside_refuse()
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_setaside_no_truncate BEFORE TRUNCATE ON jobs_setaside
    FOR EACH STATEMENT EXECUTE FUNCTION jobs_setaside_refuse()
    """,
)
ACTS = {"sqlite": ("update", "delete", "replace"), "postgresql": ("update", "delete", "truncate")}


class AppendOnly(migrations.RunSQL):
    """Refuses to change rows, in the words of the database that is there."""

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
        for statement in SQLITE if schema_editor.connection.vendor == "sqlite" else POSTGRESQL:
            schema_editor.execute(statement)

    @override
    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        vendor = schema_editor.connection.vendor
        on = "" if vendor == "sqlite" else " ON jobs_setaside"
        for act in ACTS[vendor]:
            schema_editor.execute(f"DROP TRIGGER IF EXISTS jobs_setaside_no_{act}{on}")


class Migration(migrations.Migration):
    dependencies = (("jobs", "0008_wrong_seals"),)

    operations = (
        migrations.CreateModel(
            name="SetAside",
            fields=[
                ("key", models.UUIDField(primary_key=True, serialize=False)),
                ("at", models.DateTimeField()),
                ("person", models.UUIDField()),
                ("reason", models.TextField()),
                ("made", models.PositiveBigIntegerField()),
                ("numbers", models.JSONField()),
                (
                    "tablet",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="set_aside",
                        to="jobs.tablet",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "entries set aside",
                "ordering": ("-at", "key"),
            },
        ),
        AppendOnly(),
    )
