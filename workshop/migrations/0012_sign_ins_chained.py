"""Lines of the log of ways in that were written without a digest get theirs, oldest first."""

import hashlib
import json
from datetime import UTC
from importlib import import_module
from typing import Any

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

AppendOnly = import_module("workshop.migrations.0008_sign_in_log").AppendOnly
Loosened = import_module("workshop.migrations.0011_sign_in_digests").Loosened


def digest_of(row: Any, previous: str) -> str:
    """Give the digest as it was made when this was written."""
    content = {
        "at": row.at.astimezone(UTC).isoformat(timespec="microseconds"),
        "kind": row.kind,
        "person": None if row.person_id is None else str(row.person_id),
        "by": None if row.by_id is None else str(row.by_id),
        "place": row.place,
    }
    written = json.dumps(content, sort_keys=True).encode("ascii")
    return hashlib.sha256(previous.encode("ascii") + b"\n" + written).hexdigest()


def chain(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Go through the lines that are there."""
    log = apps.get_model("workshop", "SignIn").objects.using(schema_editor.connection.alias)
    previous = "0" * 64
    for row in log.order_by("id").iterator():
        previous = digest_of(row, previous)
        log.filter(pk=row.pk).update(digest=previous)


class Migration(migrations.Migration):
    dependencies = (("workshop", "0011_sign_in_digests"),)

    operations = (Loosened(), migrations.RunPython(chain, migrations.RunPython.noop), AppendOnly())
