"""Write the signed list of where every chain ends."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from typing_extensions import override

from jobs.queries.heads import heads_list
from workshop import clock


class Command(BaseCommand):
    """``heads -o FILE``: a list to keep elsewhere, which ``verify --heads FILE`` reads."""

    help = (
        "Write the signed list of where every chain ends. Kept on another disk or by somebody "
        "else, it shows later whether anything was cut off or written anew."
    )

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("-o", "--output", required=True, type=Path, help="file to write")

    @override
    def handle(self, *_args: Any, **options: Any) -> None:
        path: Path = options["output"]
        try:
            path.write_bytes(heads_list(clock.now()))
        except OSError as reason:
            raise CommandError(f"{path} was not written: {reason.strerror}.") from None
        self.stdout.write(f"Written: {path}")
