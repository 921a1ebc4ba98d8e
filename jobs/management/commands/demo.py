"""The invented workshop: a job played from booking to report, or a shop to look around in."""

import os
import subprocess
import sys
import tempfile
from argparse import SUPPRESS
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from typing_extensions import override

from jobs.practice.loading import load
from jobs.practice.tour import tour
from workshop.queries import has_people
from workshop.serving import static_files


class Command(BaseCommand):
    """``demo run`` plays one job on a database of its own; ``demo load`` fills an empty one."""

    help = "Plays a whole job in an invented workshop, or fills an empty practice database with it."
    # The database of a run does not stand yet when the checks would ask for it.
    requires_system_checks = ()

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("what", choices=("run", "load"))
        parser.add_argument("--report", type=Path, help="run: where to write the job's report")
        parser.add_argument("--here", action="store_true", help=SUPPRESS)

    @override
    def handle(self, *_args: Any, **options: Any) -> None:
        if options["what"] == "load":
            self.load()
        elif options["here"]:
            self.run_here(options["report"])
        else:
            sys.exit(run_apart(options["report"]))

    def load(self) -> None:
        """Fill this database, which has to be empty and for practice."""
        self.refuse_real_data()
        static_files.collect_changed()
        load(self.tell)

    def run_here(self, report: Path | None) -> None:
        """Make the throw-away database and play the job in it."""
        call_command("migrate", interactive=False, verbosity=0)
        call_command("guard")
        self.refuse_real_data()
        static_files.collect_changed()
        if not tour(self.tell, report):
            sys.exit(1)

    def tell(self, line: str) -> None:
        """Write a line at once."""
        self.stdout.write(line)
        self.stdout.flush()

    def refuse_real_data(self) -> None:
        """Stop where somebody works, or where the clock may not be set."""
        if not settings.COLDBUS_MOVABLE_CLOCK:
            raise CommandError(
                "This is no practice database. For an invented shop in an empty folder: "
                "python3 manage.py up --demo"
            )
        if has_people():
            raise CommandError("The database is not empty; nothing was loaded.")


def run_apart(report: Path | None) -> int:
    """Run the same command in a process with data of its own, which are thrown away.

    Parameters
    ----------
    report : Path | None
        Where to write the report.

    Returns
    -------
    int
        Exit status of the run.
    """
    with tempfile.TemporaryDirectory(prefix="coldbus-demo-") as folder:
        inherited = {k: v for k, v in os.environ.items() if k != "COLDBUS_DATABASE_URL"}
        own = {"COLDBUS_DATA": folder, "COLDBUS_MOVABLE_CLOCK": "1"}
        command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "demo", "run", "--here"]
        if report is not None:
            command += ["--report", str(report.absolute())]
        return subprocess.call(command, env={**inherited, **own})  # noqa: S603 - our own program
