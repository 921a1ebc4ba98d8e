from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

SQLITE = (
    """
    CREATE TRIGGER IF NOT EXISTS jobs_quarantinewatch_no_delete
    BEFORE DELETE ON jobs_quarantinewatch
    BEGIN SELECT RAISE(ABORT, 'watches are never deleted'); END
    """,
    """
    CREATE TRIGGER IF NOT EXISTS jobs_quarantinewatch_no_replace
    BEFORE INSERT ON jobs_quarantinewatch
    WHEN EXISTS (
        SELECT 1 FROM jobs_quarantinewatch
        WHERE id = NEW.id OR source = NEW.source
            OR (job_id = NEW.job_id AND module = NEW.module
                AND ended_at IS NULL AND NEW.ended_at IS NULL)
    )
    BEGIN SELECT RAISE(ABORT, 'watches are never replaced'); END
    """,
)
POSTGRESQL = (
    """
    CREATE OR REPLACE FUNCTION jobs_quarantinewatch_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'watches are never deleted'
        USING ERRCODE = 'integrity_constraint_violation'; END $$
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_quarantinewatch_no_delete
    BEFORE DELETE ON jobs_quarantinewatch
    FOR EACH ROW EXECUTE FUNCTION jobs_quarantinewatch_refuse()
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_quarantinewatch_no_truncate
    BEFORE TRUNCATE ON jobs_quarantinewatch
    FOR EACH STATEMENT EXECUTE FUNCTION jobs_quarantinewatch_refuse()
    """,
)
ACTS = {"sqlite": ("delete", "replace"), "postgresql": ("delete", "truncate")}


def create(_apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    for statement in SQLITE if schema_editor.connection.vendor == "sqlite" else POSTGRESQL:
        schema_editor.execute(statement)


def drop(_apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    vendor = schema_editor.connection.vendor
    on = "" if vendor == "sqlite" else " ON jobs_quarantinewatch"
    for act in ACTS[vendor]:
        schema_editor.execute(f"DROP TRIGGER IF EXISTS jobs_quarantinewatch_no_{act}{on}")


class Migration(migrations.Migration):
    dependencies = [("jobs", "0004_quarantine_checks_append_only")]

    operations = [migrations.RunPython(create, drop)]
