"""``manage.py calc``: one calculation from JSON to JSON, with nothing stored.

Here: where input comes from and the exit status. Not here: checking and computing, which is
packs/calculations.py.
"""

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

from django.core.management.base import BaseCommand, CommandParser
from typing_extensions import override

from packs.calculations import (
    CALCULATIONS,
    Answer,
    answer,
    errors_text,
    find,
    schema_text,
)
from packs.strict_json import LARGEST_INPUT_BYTES, InputRefused

INPUT_REFUSED = 2


class Command(BaseCommand):
    """Read JSON, print JSON; exit 2 when some of it could not be computed."""

    help = "Computes from JSON: isolation, localisation, decay, leak and the rest (see --list)."
    requires_system_checks = ()

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        """Name, file and what else may be asked."""
        parser.add_argument("name", nargs="?", help="the calculation; see --list")
        parser.add_argument("file", nargs="?", help="JSON; standard input when none is named")
        parser.add_argument("--list", action="store_true", help="one line a calculation")
        parser.add_argument("--schema", action="store_true", help="the JSON Schema of its input")
        parser.add_argument("--lines", action="store_true", help="one object a line, in and out")

    @override
    def handle(self, *args: Any, **options: Any) -> None:
        """Print what was asked for."""
        if options["list"]:
            for calculation in CALCULATIONS:
                self.stdout.write(f"{calculation.name:<10} {calculation.summary}")
            return
        try:
            valid = self.print_result(options)
        except InputRefused as refused:
            self.stdout.write(errors_text(refused.problems))
            valid = False
        if not valid:
            raise SystemExit(INPUT_REFUSED)

    def print_result(self, options: dict[str, Any]) -> bool:
        """Print the schema, the result, or a result a line; tell whether all could be computed."""
        if options["name"] is None:
            raise InputRefused([("calculation", "is missing: name one, or ask with --list")])
        name = find(options["name"]).name
        if options["schema"]:
            self.stdout.write(schema_text(name))
            return True
        valid = True
        for each in answers(name, options["file"], lines=options["lines"]):
            self.stdout.write(each.text)
            valid = valid and each.valid
        return valid


def answers(name: str, file: str | None, *, lines: bool) -> Iterator[Answer]:
    """Compute a file or standard input, whole or line by line."""
    if file in {None, "-"}:
        yield from answers_from(sys.stdin.buffer, name, lines=lines)
        return
    with opened(str(file)) as stream:
        yield from answers_from(stream, name, lines=lines)


def opened(file: str) -> IO[bytes]:
    """Open a file, or say why it cannot be."""
    try:
        return Path(file).open("rb")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a file name"
        raise InputRefused([("file", f"cannot be read: {reason}")]) from error


def answers_from(stream: IO[bytes], name: str, *, lines: bool) -> Iterator[Answer]:
    """Compute what a stream holds."""
    if not lines:
        yield answer(name, stream.read(LARGEST_INPUT_BYTES + 1))
        return
    for line in stream:
        yield answer(name, line)
