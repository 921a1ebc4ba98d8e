"""Where a removed module went: records that are only ever added."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import ProjectState
from typing_extensions import override

SQLITE = (
    """
    CREATE TRIGGER IF NOT EXISTS jobs_disposal_no_update BEFORE UPDATE ON jobs_disposal
    BEGIN SELECT RAISE(ABORT, 'disposals are never changed'); END
    """,
    """
    CREATE TRIGGER IF NOT EXISTS jobs_disposal_no_delete BEFORE DELETE ON jobs_disposal
    BEGIN SELECT RAISE(ABORT, 'disposals are never deleted'); END
    """,
    """
    CREATE TRIGGER IF NOT EXISTS jobs_disposal_no_replace BEFORE INSERT ON jobs_disposal
    WHEN EXISTS (
        SELECT 1 FROM jobs_disposal
        WHERE "key" = NEW."key" OR (subject = NEW.subject AND seq = NEW.seq)
            OR digest = NEW.digest
    )
    BEGIN SELECT RAISE(ABORT, 'disposals are never replaced'); END
    """,
)
POSTGRESQL = (
    """
    CREATE OR REPLACE FUNCTION jobs_disposal_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'disposals are never changed or deleted'
        USING ERRCODE = 'integrity_constraint_violation'; END $$
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_disposal_no_update BEFORE UPDATE ON jobs_disposal
    FOR EACH ROW EXECUTE FUNCTION jobs_disposal_refuse()
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_disposal_no_delete BEFORE DELETE ON jobs_disposal
    FOR EACH ROW EXECUTE FUNCTION jobs_disposal_refuse()
    """,
    """
    CREATE OR REPLACE TRIGGER jobs_disposal_no_truncate BEFORE TRUNCATE ON jobs_disposal
    FOR EACH STATEMENT EXECUTE FUNCTION jobs_disposal_refuse()
    """,
)


class AppendOnly(migrations.RunSQL):
    """Make the triggers in the words of the database; they go with their table."""

    def __init__(self) -> None:
        super().__init__(sql=migrations.RunSQL.noop, reverse_sql=migrations.RunSQL.noop)

    @override
    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        """Name the operation without arguments."""
        return (type(self).__name__, [], {})

    @override
    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        """Run the statements of this database."""
        vendor = schema_editor.connection.vendor
        for statement in POSTGRESQL if vendor == "postgresql" else SQLITE:
            schema_editor.execute(statement, params=None)


class Migration(migrations.Migration):
    dependencies = (("jobs", "0010_desk"),)
    operations = (
        migrations.CreateModel(
            name="Disposal",
            fields=[
                ("key", models.UUIDField(primary_key=True, serialize=False)),
                ("subject", models.UUIDField(db_index=True)),
                ("serial", models.CharField(blank=True, max_length=120)),
                ("seq", models.PositiveIntegerField()),
                ("at", models.DateTimeField(db_index=True)),
                ("person", models.UUIDField()),
                ("values", models.JSONField()),
                ("digest", models.CharField(max_length=64, unique=True)),
                (
                    "watch",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="disposals",
                        to="jobs.quarantinewatch",
                    ),
                ),
            ],
            options={
                "ordering": ("at", "seq"),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("subject", "seq"), name="disposal_once_a_place"
                    ),
                ],
            },
        ),
        AppendOnly(),
    )
