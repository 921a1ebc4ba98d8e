"""The log of ways in, only ever added to, and the count of wrong PINs at a place."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import ProjectState
from typing_extensions import override

SQLITE = (
    """
    CREATE TRIGGER IF NOT EXISTS workshop_signin_no_update BEFORE UPDATE ON workshop_signin
    BEGIN SELECT RAISE(ABORT, 'the log of sign-ins is only added to'); END
    """,
    """
    CREATE TRIGGER IF NOT EXISTS workshop_signin_no_delete BEFORE DELETE ON workshop_signin
    BEGIN SELECT RAISE(ABORT, 'the log of sign-ins is only added to'); END
    """,
    """
    CREATE TRIGGER IF NOT EXISTS workshop_signin_no_replace BEFORE INSERT ON workshop_signin
    WHEN EXISTS (SELECT 1 FROM workshop_signin WHERE id = NEW.id)
    BEGIN SELECT RAISE(ABORT, 'the log of sign-ins is only added to'); END
    """,
)
POSTGRESQL = (
    """
    CREATE OR REPLACE FUNCTION workshop_signin_refuse() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'the log of sign-ins is only added to'
        USING ERRCODE = 'integrity_constraint_violation'; END $$
    """,
    """
    CREATE OR REPLACE TRIGGER workshop_signin_no_update BEFORE UPDATE ON workshop_signin
    FOR EACH ROW EXECUTE FUNCTION workshop_signin_refuse()
    """,
    """
    CREATE OR REPLACE TRIGGER workshop_signin_no_delete BEFORE DELETE ON workshop_signin
    FOR EACH ROW EXECUTE FUNCTION workshop_signin_refuse()
    """,
    """
    CREATE OR REPLACE TRIGGER workshop_signin_no_truncate BEFORE TRUNCATE ON workshop_signin
    FOR EACH STATEMENT EXECUTE FUNCTION workshop_signin_refuse()
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
        on = "" if vendor == "sqlite" else " ON workshop_signin"
        for act in ACTS[vendor]:
            schema_editor.execute(f"DROP TRIGGER IF EXISTS workshop_signin_no_{act}{on}")


class Migration(migrations.Migration):
    dependencies = (("workshop", "0007_person_erased"),)

    operations = (
        migrations.CreateModel(
            name="PlaceTries",
            fields=[
                ("place", models.CharField(max_length=48, primary_key=True, serialize=False)),
                ("people", models.JSONField(default=list)),
                ("last_at", models.DateTimeField()),
                ("locked_until", models.DateTimeField(blank=True, null=True)),
            ],
            options={"verbose_name_plural": "tries at places"},
        ),
        migrations.CreateModel(
            name="SignIn",
            fields=[
                ("id", models.BigAutoField(primary_key=True, serialize=False)),
                ("at", models.DateTimeField(db_index=True)),
                ("kind", models.CharField(max_length=20)),
                ("place", models.CharField(blank=True, default="", max_length=48)),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="workshop.person",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="workshop.person",
                    ),
                ),
            ],
            options={"ordering": ("-id",)},
        ),
        AppendOnly(),
    )
