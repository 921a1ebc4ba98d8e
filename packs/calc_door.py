"""The words of ``manage.py calc``, without Django: where input comes from, what is printed.

Here: options, files, standard input and output, the exit status. Not here: checking and computing
(calculations.py). Imports are late, so that a list costs no more than a list.
"""

import argparse
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, nullcontext
from importlib import import_module
from pathlib import Path
from typing import IO, Any, NoReturn

from typing_extensions import override

from packs.calculation_list import CALCULATIONS, find
from packs.strict_json import LARGEST_INPUT_BYTES, InputRefused

COMPUTED, NOT_WRITTEN, INPUT_REFUSED = 0, 1, 2
INTERRUPTED, NOBODY_READS = 130, 141
"""What a shell reports of a command that Ctrl-C or a closed pipe has ended."""
SUMMARY = "Computes from JSON: isolation, localisation, decay, leak and the rest (see --list)."

Say = Callable[[str], None]


class _Words(argparse.ArgumentParser):
    """Options that are refused like any other input: as an errors object."""

    @override
    def error(self, message: str) -> NoReturn:
        raise InputRefused([("options", message)])


def main(words: list[str]) -> int:
    """Do what the words after ``calc`` ask for.

    Parameters
    ----------
    words : list[str]
        As typed.

    Returns
    -------
    status : int
        0 when all was computed, 2 when some input was refused.
    """
    try:
        return _printed(words)
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # What is still buffered must not be tried again when the interpreter ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return NOBODY_READS
    except OSError as error:
        sys.stderr.write(f"The result could not be written: {error.strerror}.\n")
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return NOT_WRITTEN


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Name what may be asked.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        To be added to.
    """
    parser.add_argument("name", nargs="?", help="the calculation; see --list")
    parser.add_argument("file", nargs="?", help="JSON; standard input when none is named")
    parser.add_argument("--list", action="store_true", help="one line a calculation")
    parser.add_argument("--schema", action="store_true", help="the JSON Schema of its input")
    parser.add_argument("--lines", action="store_true", help="one object a line, in and out")
    parser.add_argument(
        "--explain", action="store_true", help="each step with the numbers put in, then the verdict"
    )


def run(options: dict[str, Any], say: Say) -> int:
    """Print what was asked for.

    Parameters
    ----------
    options : dict[str, Any]
        What `add_arguments` names.
    say : Say
        Prints one line.

    Returns
    -------
    status : int
        0 when all was computed, 2 when some input was refused.
    """
    if options["list"]:
        for calculation in CALCULATIONS:
            say(f"{calculation.name:<10} {calculation.summary}")
        return COMPUTED
    try:
        return COMPUTED if _all_computed(options, say) else INPUT_REFUSED
    except InputRefused as refused:
        say(_door().errors_text(refused.problems))
        return INPUT_REFUSED


def _printed(words: list[str]) -> int:
    """Read the words and print to standard output, whatever its encoding."""
    parser = _Words(prog="manage.py calc", description=SUMMARY)
    add_arguments(parser)
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="backslashreplace")
    try:
        options = vars(parser.parse_intermixed_args(words))
    except InputRefused as refused:
        _say(_door().errors_text(refused.problems))
        return INPUT_REFUSED
    return run(options, _say)


def _say(text: str) -> None:
    """Print one line at once, so that whoever feeds lines gets each answer before the next."""
    print(text, flush=True)  # noqa: T201  (the command's own output)


def _door() -> Any:
    """Import what checks and computes."""
    return import_module("packs.calculations")


def _all_computed(options: dict[str, Any], say: Say) -> bool:
    """Print the schema, the explanation, the result, or a result a line."""
    if options["name"] is None:
        raise InputRefused([("calculation", "is missing: name one, or ask with --list")])
    name = find(options["name"]).name
    if options["schema"]:
        say(_door().schema_text(name))
        return True
    if options["explain"] and options["lines"]:
        message = "shows one input at a time: leave out --lines"
        raise InputRefused([("explain", message)])
    valid = True
    for each in _answers(name, options):
        say(each.text)
        valid = valid and each.valid
    return valid


def _answers(name: str, options: dict[str, Any]) -> Iterator[Any]:
    """Answer a file or standard input, whole or line by line."""
    with _opened(options["file"]) as stream:
        for raw in _lines(stream) if options["lines"] else [_read(stream)]:
            yield _answer(name, raw, explain=options["explain"])


def _answer(name: str, raw: bytes, *, explain: bool) -> Any:
    """Answer one input; a fault of ours is said as plainly as one of the input."""
    door = _door()
    try:
        return door.explain(name, raw) if explain else door.answer(name, raw)
    except Exception as fault:  # noqa: BLE001  (whoever computes a thousand lines wants the rest)
        message = f"could not be computed, which is a fault of this program ({fault!r}): report it"
        return door.Answer(door.errors_text([("", message)]), valid=False)


def _opened(file: str | None) -> AbstractContextManager[IO[bytes]]:
    """Open a file or standard input, or say why it cannot be."""
    if file in {None, "-"}:
        if sys.stdin is None:
            raise InputRefused([("file", "is missing, and there is no standard input")])
        return nullcontext(sys.stdin.buffer)
    try:
        return Path(str(file)).open("rb")
    except (OSError, ValueError) as error:
        raise _unreadable(error) from error


def _unreadable(error: Exception) -> InputRefused:
    """Say why a file cannot be read."""
    reason = getattr(error, "strerror", None) or "not a file name"
    return InputRefused([("file", f"cannot be read: {reason}")])


def _lines(stream: IO[bytes]) -> Iterator[bytes]:
    """Read line by line; of a line that is too long only as much as shows that it is."""
    while line := _read(stream, whole_line=True):
        yield line
        rest = line
        while len(rest) > LARGEST_INPUT_BYTES and not rest.endswith(b"\n"):
            rest = _read(stream, whole_line=True)


def _read(stream: IO[bytes], *, whole_line: bool = False) -> bytes:
    """Read all there is or one line, and at most one byte more than is taken."""
    try:
        most = LARGEST_INPUT_BYTES + 1
        return stream.readline(most) if whole_line else stream.read(most)
    except OSError as error:
        raise _unreadable(error) from error
