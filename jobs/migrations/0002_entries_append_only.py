from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

SQLITE = (
    """
    CREATE TRIGGER IF NOT EXISTS jobs_entry_no_update BEFORE UPDATE ON jobs_entry
    BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END
    """,
    """
    CREATE TRIGGER IF NOT EXISTS jobs_entry_no_delete BEFORE DELETE ON jobs_entry
    BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END
    """,
    """
    CREATE TRIGGER IF NOT EXISTS jobs_entry_no_replace BEFORE INSERT ON jobs_entry
    WHEN EXISTS (
        SELECT 1 FROM jobs_entry
        WHERE "key" = NEW."key" OR (job_id = NEW.job_id AND seq = NEW.seq)
            OR hash = NEW.hash
    )
    BEGIN SELECT RAISE(ABORT, 'entries are never replaced'); END
    """,
)
POSTGRESQL = (
    """
    CREATE OR REPLACE FUNCTION jobs_entry_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'entries are never changed or deleted'
        USING ERRCODE = 'integrity_constraint_violation'; END $$
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_entry_no_update BEFORE UPDATE ON jobs_entry
    FOR EACH ROW EXECUTE FUNCTION jobs_entry_refuse()
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_entry_no_delete BEFORE DELETE ON jobs_entry
    FOR EACH ROW EXECUTE FUNCTION jobs_entry_refuse()
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_entry_no_truncate BEFORE TRUNCATE ON jobs_entry
    FOR EACH STATEMENT EXECUTE FUNCTION jobs_entry_refuse()
    """,
)
NAMES = {
    "sqlite": ("jobs_entry_no_update", "jobs_entry_no_delete", "jobs_entry_no_replace"),
    "postgresql": ("jobs_entry_no_update", "jobs_entry_no_delete", "jobs_entry_no_truncate"),
}


def create(_apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    for statement in SQLITE if schema_editor.connection.vendor == "sqlite" else POSTGRESQL:
        schema_editor.execute(statement)


def drop(_apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    vendor = schema_editor.connection.vendor
    on = "" if vendor == "sqlite" else " ON jobs_entry"
    for name in NAMES[vendor]:
        schema_editor.execute(f"DROP TRIGGER IF EXISTS {name}{on}")


class Migration(migrations.Migration):
    dependencies = [("jobs", "0001_jobs_and_entries")]

    operations = [migrations.RunPython(create, drop)]
