"""``manage.py test``: everything that must hold before a change is taken, in one command.

With pytest's own arguments (paths, -k, -x …) only those tests run.
"""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.db.utils import ConnectionHandler
from typing_extensions import override

from workshop import environment

OWN_WORDS = frozenset(
    {"--bench", "--coverage", "-h", "--help", "--no-color", "--force-color", "--traceback"}
)
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
# The pure core is covered whole; the rest as far as pages and commands can sensibly be.
CORE = "packs/physics/*,jobs/core/*,jobs/steps/*"
BROWSER = "tests/browser"
# Two browsers and two servers share two cores. What fails there may lack time; what fails alone
# as well is broken, and more than these failures at once are.
ALONE_AT_MOST = 6
CHROMIUM_VARIABLE = "COLDBUS_CHROMIUM"
DATABASE_VARIABLE = "COLDBUS_DATABASE_URL"
POSTGRESQL_VARIABLE = "COLDBUS_TEST_POSTGRESQL"
LOCAL_POSTGRESQL = "postgresql://postgres@127.0.0.1:5432/postgres"


class Command(BaseCommand):
    """Run the checkers and the tests, and stop at the first that fails."""

    help = "Runs every check and test; further arguments go to pytest, which then runs alone."
    requires_system_checks = ()
    pytest_arguments: Sequence[str] = ()

    @override
    def run_from_argv(self, argv: list[str]) -> None:
        """Keep our own words, and leave the others for pytest."""
        self.pytest_arguments = [word for word in argv[2:] if word not in OWN_WORDS]
        super().run_from_argv(argv[:2] + [word for word in argv[2:] if word in OWN_WORDS])

    @override
    def add_arguments(self, parser: Any) -> None:
        """Declare the options."""
        parser.add_argument(
            "--bench", action="store_true", help="run the long soaks and measurements instead"
        )

        parser.add_argument(
            "--coverage", action="store_true", help="measure which lines the tests reach instead"
        )

    @override
    def handle(self, *args: Any, **options: Any) -> None:
        """Run what was asked for."""
        if options["bench"]:
            self.run("bench", [*python("-m", "pytest"), "-m", "bench", *self.pytest_arguments])
        elif options["coverage"]:
            self.measure_coverage()
        elif self.pytest_arguments:
            self.run("tests", [*python("-m", "pytest"), *self.pytest_arguments])
        else:
            self.run_everything()

    def run_everything(self) -> None:
        """Run it all, cheapest first; the last line is that of the Python tests."""
        self.run("layout", [*python("-m", "pytest"), "-q", "tests/house/test_layout.py"])
        self.run("ruff", python("-m", "ruff", "check", "."))
        self.run("format", python("-m", "ruff", "format", "--check", "."))
        self.run("templates", [beside_python("djade"), "--check", *templates()])
        self.run("contracts", [beside_python("lint-imports")])
        self.run("types", python("-m", "mypy"))
        self.run("migrations", python("manage.py", "makemigrations", "--check", "--dry-run"))
        self.run("deployment", python("manage.py", "check", "--deploy", "--fail-level", "WARNING"))
        last_line = self.run("tests", [*python("-m", "pytest"), "-n", "2", "-m", "not bench"])
        self.run_on_postgresql()
        self.run_node()
        self.run_browser()
        self.stdout.write(last_line)

    def measure_coverage(self) -> None:
        """Run the Python tests and hold what they reach against what was agreed."""
        coverage = python("-m", "coverage")
        self.run("tests", [*coverage, "run", "-m", "pytest", "-n", "2", *self.pytest_arguments])
        self.run("collect", [*coverage, "combine", "--quiet"])
        self.run("core", [*coverage, "report", f"--include={CORE}", "--fail-under=100"])
        self.run("all", [*coverage, "report"])

    def run_on_postgresql(self) -> None:
        """Run the tests that use the database on PostgreSQL, where a server answers."""
        asked = os.environ.get(POSTGRESQL_VARIABLE)
        if not asked and os.environ.get(DATABASE_VARIABLE):
            self.stdout.write("\n== tests on PostgreSQL: not run again, all tests ran on it")
            return
        url = asked or LOCAL_POSTGRESQL
        if not asked and not answers():
            self.stdout.write(
                f"\n== tests on PostgreSQL: not run, no server answers at {LOCAL_POSTGRESQL}; "
                f"{POSTGRESQL_VARIABLE} names another"
            )
            return
        command = [*python("-m", "pytest"), "-q", "-n", "2", "-m", "not bench"]
        self.run(
            "tests on PostgreSQL",
            [*command, "--database-only", f"--ignore={BROWSER}"],
            {DATABASE_VARIABLE: url},
        )

    def run_node(self) -> None:
        """Check and test the scripts where node is installed."""
        node = shutil.which("node")
        scripts = sorted((root() / "static" / "js").rglob("*.js"))
        if node is None:
            self.stdout.write("\n== scripts: not run, node is not installed")
            return
        for script in scripts:
            self.run(f"script {script.name}", [node, "--check", str(script)])
        tests = sorted(str(path) for path in (root() / "tests" / "js").rglob("*.test.js"))
        if tests:
            self.run("script tests", [node, "--test", *tests])

    def run_browser(self) -> None:
        """Run the tests in a browser where Chromium is installed."""
        chromium = os.environ.get(CHROMIUM_VARIABLE) or find_chromium()
        if chromium is None:
            self.stdout.write("\n== browser: not run, Chromium is not installed")
            return
        if not any((root() / "tests" / "browser").glob("test_*.py")):
            self.stdout.write("\n== browser: there are no tests in tests/browser")
            return
        command = [*python("-m", "pytest"), "-q", BROWSER]
        environment = {CHROMIUM_VARIABLE: chromium}
        try:
            self.run("browser", [*command, "-n", "2", "--dist", "loadfile"], environment)
        except CommandError:
            failed = failed_in_browser()
            if not 0 < len(failed) <= ALONE_AT_MOST:
                raise
            self.stdout.write("Failed beside others, so played once more alone:")
            self.stdout.write("\n".join(f"  {name}" for name in failed))
            self.run("browser, alone", [*command, "--last-failed"], environment)

    def run(
        self, name: str, command: Sequence[str], environment: Mapping[str, str] | None = None
    ) -> str:
        """Run one checker, show what it says, and return its last line."""
        self.stdout.write(f"\n== {name}")
        self.stdout.flush()
        last_line = ""
        with subprocess.Popen(
            command,
            cwd=root(),
            env={**checker_environment(), **(environment or {})},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            encoding="utf-8",
        ) as process:
            for line in process.stdout or ():
                self.stdout.write(line, ending="")
                last_line = line.rstrip("\n") or last_line
        if process.returncode != 0:
            raise CommandError(f"{name}: failed.", returncode=process.returncode)
        return last_line


def root() -> Path:
    """Return the folder of manage.py."""
    return Path(settings.BASE_DIR)


def python(*words: str) -> list[str]:
    """Return a command of this very environment."""
    return [sys.executable, *words]


def beside_python(name: str) -> str:
    """Return the path of a program installed in this environment."""
    return str(Path(sys.executable).parent / name)


def templates() -> list[str]:
    """Return the templates, for the checker that wants each by name."""
    return sorted(str(path) for path in (root() / "templates").rglob("*.html"))


def find_chromium() -> str | None:
    """Return the path of an installed Chromium."""
    found = (shutil.which(name) for name in CHROMIUM_NAMES)
    return next((path for path in found if path is not None), None)


def answers() -> bool:
    """Say whether a PostgreSQL server lets us in on this computer, without a password."""
    os.environ[POSTGRESQL_VARIABLE] = LOCAL_POSTGRESQL
    found = environment.read_postgresql(POSTGRESQL_VARIABLE)
    try:
        ConnectionHandler({"default": found or {}})["default"].ensure_connection()
    except (ImproperlyConfigured, DatabaseError):
        return False
    return True


def failed_in_browser() -> list[str]:
    """Name the browser tests that failed when they last ran, as pytest keeps them."""
    kept = root() / ".pytest_cache" / "v" / "cache" / "lastfailed"
    names = json.loads(kept.read_text(encoding="utf-8")) if kept.is_file() else {}
    return [name for name in names if name.startswith(BROWSER)]


def checker_environment() -> dict[str, str]:
    """Return the environment of every checker: strict, and apart from any shop's settings."""
    inherited = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith("COLDBUS_") or name == DATABASE_VARIABLE
    }
    return {
        **inherited,
        "COLDBUS_HTTPS": "1",
        "PYTHONDEVMODE": "1",
        "PYTHONUNBUFFERED": "1",
        "DJANGO_SETTINGS_MODULE": "workshop.settings",
    }
