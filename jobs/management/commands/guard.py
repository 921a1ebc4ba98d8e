"""Make the triggers that keep entries append-only; run after every migration.

At the first run in a data folder it also signs the ends of chains that are older than signatures.
"""

from typing import Any

from django.core.management.base import BaseCommand
from typing_extensions import override

from jobs.actions.chain import sign_old_heads
from jobs.rights import is_owner, rights_too_wide
from jobs.triggers import create_triggers, missing_triggers
from workshop import clock, signing_keys


class Command(BaseCommand):
    """``guard``: make the triggers again; exit 0 when all are there."""

    help = "Make the triggers that refuse to change or delete entries."

    @override
    def handle(self, *_args: Any, **_options: Any) -> None:
        # Who does not own the tables can only look.
        if is_owner():
            create_triggers()
        signing_keys.adopt(clock.now())
        sign_old_heads()
        wide = rights_too_wide()
        if wide:
            self.stderr.write(
                f"CAUTION: this role may do more than add to the record ({', '.join(wide)}). "
                "Serve under another one: see database_role."
            )
        missing = missing_triggers()
        if missing:
            raise SystemExit("Missing triggers: " + ", ".join(missing))
