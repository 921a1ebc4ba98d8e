"""Migrations are named after what they do, can be undone, and import nothing that changes."""

import re

from django.db.migrations import Migration
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.operations import RunPython, RunSQL

from tests.house.sources import APPS, imported_names, migration_files, relative

NAME = re.compile(r"^\d{4}_[a-z][a-z0-9_]*$")


def own_migrations() -> dict[str, Migration]:
    loader = MigrationLoader(None, ignore_no_migrations=True)
    return {
        f"{app}.{name}": migration
        for (app, name), migration in loader.disk_migrations.items()
        if app in APPS
    }


def test_a_migration_is_named_after_what_it_does() -> None:
    badly_named = [
        relative(path)
        for path in migration_files()
        if not NAME.match(path.stem) or "_auto_" in path.stem
    ]
    assert badly_named == []


def test_a_migration_can_be_undone_or_says_why_not() -> None:
    silent = [
        name
        for name, migration in own_migrations().items()
        if not all(operation.reversible for operation in migration.operations)
        and not type(migration).__doc__
    ]
    assert silent == []


def test_a_migration_does_not_import_code_that_will_change() -> None:
    leaning = [
        f"{relative(path)}: {name}"
        for path in migration_files()
        for name in sorted(imported_names(path))
        if name.split(".")[0] in APPS and ".migrations" not in name
    ]
    assert leaning == []


def test_a_migration_changes_columns_or_rows_but_not_both() -> None:
    def kinds(migration: Migration) -> set[str]:
        return {
            "rows" if isinstance(operation, RunPython) else "columns"
            for operation in migration.operations
            if not isinstance(operation, RunSQL)
        }

    both = [name for name, migration in own_migrations().items() if len(kinds(migration)) > 1]
    assert both == []
