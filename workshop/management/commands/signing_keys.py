"""Show, export and renew the keys that sign the record."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from typing_extensions import override

from workshop import clock, signing_keys
from workshop.writing import folder_lock


class Command(BaseCommand):
    """``signing_keys``: list them; ``-o FILE`` exports the public list; ``--renew`` makes one."""

    help = (
        "List the keys that sign the record. The exported list holds no secret: kept by somebody "
        "else, it lets them verify the record without trusting this computer."
    )

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("-o", "--output", type=Path, help="file for the public list")
        parser.add_argument(
            "--renew",
            action="store_true",
            help="let another key follow, for which the one in use vouches; not while serving",
        )

    @override
    def handle(self, *_args: Any, **options: Any) -> None:
        if options["renew"]:
            folder_lock().take("a command that writes")
            try:
                signing_keys.follow(clock.now())
            except ValueError as reason:
                raise CommandError(str(reason)) from None
            finally:
                folder_lock().release()
        in_use = signing_keys.key_in_use()
        for key in signing_keys.trusted_keys().values():
            until = "in use" if key.id == in_use.id else f"until {key.until}"
            vouched = f", vouched for by {key.endorsed_by}" if key.endorsed_by else ""
            self.stdout.write(f"{key.id}  since {key.since}, {until}{vouched}")
        path: Path | None = options["output"]
        if path is not None:
            try:
                path.write_bytes(signing_keys.exported())
            except OSError as reason:
                raise CommandError(f"{path} was not written: {reason.strerror}.") from None
            self.stdout.write(f"Written: {path}")
