"""What the front desk keeps of a job: one log to which rows are only ever added."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import ProjectState
from typing_extensions import override

SQLITE = {
    "jobs_deskevent_no_update": """
        CREATE TRIGGER IF NOT EXISTS jobs_deskevent_no_update BEFORE UPDATE ON jobs_deskevent
        WHEN NEW.words <> '{}' OR NEW.erased_at IS NULL OR OLD.erased_at IS NOT NULL
            OR NEW.id <> OLD.id OR NEW."key" <> OLD."key" OR NEW.job_id IS NOT OLD.job_id
            OR NEW.kind <> OLD.kind OR NEW.at <> OLD.at OR NEW.person <> OLD.person
            OR NEW."values" <> OLD."values" OR NEW.due_on IS NOT OLD.due_on
            OR NEW.about IS NOT OLD.about
        BEGIN SELECT RAISE(ABORT, 'what the desk wrote is only ever erased'); END
    """,
    "jobs_deskevent_no_delete": """
        CREATE TRIGGER IF NOT EXISTS jobs_deskevent_no_delete BEFORE DELETE ON jobs_deskevent
        BEGIN SELECT RAISE(ABORT, 'what the desk wrote is never deleted'); END
    """,
    "jobs_deskevent_no_replace": """
        CREATE TRIGGER IF NOT EXISTS jobs_deskevent_no_replace BEFORE INSERT ON jobs_deskevent
        WHEN EXISTS (
            SELECT 1 FROM jobs_deskevent WHERE id = NEW.id OR "key" = NEW."key"
        )
        BEGIN SELECT RAISE(ABORT, 'what the desk wrote is never replaced'); END
    """,
}
FUNCTION = """
    CREATE OR REPLACE FUNCTION jobs_deskevent_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN
        IF TG_OP = 'UPDATE' AND NEW.words = '{}'::jsonb AND NEW.erased_at IS NOT NULL
            AND OLD.erased_at IS NULL
            AND to_jsonb(NEW) - 'words' - 'erased_at' = to_jsonb(OLD) - 'words' - 'erased_at'
        THEN RETURN NEW; END IF;
        RAISE EXCEPTION 'what the desk wrote is only ever erased'
            USING ERRCODE = 'integrity_constraint_violation';
    END $$
"""
POSTGRESQL = {
    "jobs_deskevent_no_update": """
        CREATE OR REPLACE TRIGGER jobs_deskevent_no_update BEFORE UPDATE ON jobs_deskevent
        FOR EACH ROW EXECUTE FUNCTION jobs_deskevent_refuse()
    """,
    "jobs_deskevent_no_delete": """
        CREATE OR REPLACE TRIGGER jobs_deskevent_no_delete BEFORE DELETE ON jobs_deskevent
        FOR EACH ROW EXECUTE FUNCTION jobs_deskevent_refuse()
    """,
    "jobs_deskevent_no_truncate": """
        CREATE OR REPLACE TRIGGER jobs_deskevent_no_truncate BEFORE TRUNCATE ON jobs_deskevent
        FOR EACH STATEMENT EXECUTE FUNCTION jobs_deskevent_refuse()
    """,
}


class Guarded(migrations.CreateModel):
    """A table made together with the triggers that let rows be added only; they go with it."""

    @override
    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        """Make the table, and its triggers once its columns are there."""
        super().database_forwards(app_label, schema_editor, from_state, to_state)
        is_sqlite = schema_editor.connection.vendor == "sqlite"
        if not is_sqlite:
            schema_editor.execute(FUNCTION, params=None)
        for statement in (SQLITE if is_sqlite else POSTGRESQL).values():
            schema_editor.execute(statement, params=None)


class Migration(migrations.Migration):
    dependencies = (("jobs", "0009_tablet_set_aside"),)
    operations = (
        Guarded(
            name="DeskEvent",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.UUIDField(unique=True)),
                ("kind", models.CharField(max_length=20)),
                ("at", models.DateTimeField(db_index=True)),
                ("person", models.UUIDField()),
                ("values", models.JSONField(blank=True, default=dict)),
                ("words", models.JSONField(blank=True, default=dict)),
                ("due_on", models.DateField(blank=True, db_index=True, null=True)),
                ("about", models.UUIDField(blank=True, null=True)),
                ("erased_at", models.DateTimeField(blank=True, null=True)),
                (
                    "job",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="desk_events",
                        to="jobs.job",
                    ),
                ),
            ],
            options={"ordering": ("id",)},
        ),
    )
