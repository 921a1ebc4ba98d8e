"""Room for the digest by which a line of the log of ways in holds on to the one before."""

from importlib import import_module

from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import ProjectState
from typing_extensions import override

AppendOnly = import_module("workshop.migrations.0008_sign_in_log").AppendOnly


class Loosened(AppendOnly):  # type: ignore[misc,valid-type]
    """Lets rows be changed until `AppendOnly` comes again, in either direction."""

    @override
    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        super().database_backwards(app_label, schema_editor, from_state, to_state)

    @override
    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        super().database_forwards(app_label, schema_editor, from_state, to_state)


class Migration(migrations.Migration):
    dependencies = (("workshop", "0010_office_password"),)

    operations = (
        Loosened(),
        migrations.AddField(
            "signin", "digest", models.CharField(default="", max_length=64), preserve_default=False
        ),
        AppendOnly(),
    )
