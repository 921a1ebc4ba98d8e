from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

SQLITE = (
    """
    CREATE TRIGGER IF NOT EXISTS jobs_quarantinecheck_no_update
    BEFORE UPDATE ON jobs_quarantinecheck
    BEGIN SELECT RAISE(ABORT, 'checks are never changed'); END
    """,
    """
    CREATE TRIGGER IF NOT EXISTS jobs_quarantinecheck_no_delete
    BEFORE DELETE ON jobs_quarantinecheck
    BEGIN SELECT RAISE(ABORT, 'checks are never deleted'); END
    """,
    """
    CREATE TRIGGER IF NOT EXISTS jobs_quarantinecheck_no_replace
    BEFORE INSERT ON jobs_quarantinecheck
    WHEN EXISTS (
        SELECT 1 FROM jobs_quarantinecheck
        WHERE "key" = NEW."key" OR (watch_id = NEW.watch_id AND seq = NEW.seq)
            OR digest = NEW.digest
    )
    BEGIN SELECT RAISE(ABORT, 'checks are never replaced'); END
    """,
)
POSTGRESQL = (
    """
    CREATE OR REPLACE FUNCTION jobs_quarantinecheck_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'checks are never changed or deleted'
        USING ERRCODE = 'integrity_constraint_violation'; END $$
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_quarantinecheck_no_update
    BEFORE UPDATE ON jobs_quarantinecheck
    FOR EACH ROW EXECUTE FUNCTION jobs_quarantinecheck_refuse()
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_quarantinecheck_no_delete
    BEFORE DELETE ON jobs_quarantinecheck
    FOR EACH ROW EXECUTE FUNCTION jobs_quarantinecheck_refuse()
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_quarantinecheck_no_truncate
    BEFORE TRUNCATE ON jobs_quarantinecheck
    FOR EACH STATEMENT EXECUTE FUNCTION jobs_quarantinecheck_refuse()
    """,
)
ACTS = {"sqlite": ("update", "delete", "replace"), "postgresql": ("update", "delete", "truncate")}


def create(_apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    for statement in SQLITE if schema_editor.connection.vendor == "sqlite" else POSTGRESQL:
        schema_editor.execute(statement)


def drop(_apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    vendor = schema_editor.connection.vendor
    on = "" if vendor == "sqlite" else " ON jobs_quarantinecheck"
    for act in ACTS[vendor]:
        schema_editor.execute(f"DROP TRIGGER IF EXISTS jobs_quarantinecheck_no_{act}{on}")


class Migration(migrations.Migration):
    dependencies = [("jobs", "0003_quarantine_watch")]

    operations = [migrations.RunPython(create, drop)]
