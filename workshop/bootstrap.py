"""What manage.py does before Django can be imported; standard library only.

Makes .venv beside manage.py, installs the pinned packages there, starts again inside it and
hands over to Django. An old Python must be able to read this file, so its syntax is plain.
Serving, tests and everything else are management commands.
"""

import hashlib
import importlib
import importlib.util
import os
import subprocess
import sys
from pathlib import Path
from typing import List, Optional

OLDEST = (3, 11)
ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
LOCK = ROOT / "workshop" / "requirements.lock"
TEST_LOCK = ROOT / "workshop" / "requirements-test.lock"
SERVER_LOCK = ROOT / "workshop" / "requirements-server.lock"
WHEELHOUSE = ROOT / ".wheelhouse"

# Where one of these is set, a larger shop's packages are needed too.
DATABASE_VARIABLE = "COLDBUS_DATABASE_URL"
SERVER_VARIABLES = (DATABASE_VARIABLE, "COLDBUS_STORAGE_URL")
# For containers and packagers who bring the packages themselves.
OWN_PYTHON_VARIABLE = "COLDBUS_OWN_PYTHON"
# These work without the shop's data, and leave no folder behind.
WITHOUT_DATA = {"test", "calc", "doctor", "check", "help", "makemigrations", "--help", "--version"}
# These open no database of the shop's either.
WITHOUT_DATABASE = {"test", "calc", "help", "--help", "--version"}
# These look at a damaged log themselves; any other that opens the database takes in what is left.
LOOK_THEMSELVES = {"up", "restore", "doctor"}


FULL = "The disk of %s is full. What was recorded is there and whole; make room, then try again.\n"


class CannotStart(Exception):
    """Why the start has to stop, in one sentence for the person at the keyboard."""


def main(argv: List[str]) -> int:
    """Start the command in ``argv`` inside the project's own environment."""
    try:
        check_python()
        wheelhouse = take_wheelhouse(argv)
        if os.environ.get(OWN_PYTHON_VARIABLE) != "1":
            install(LOCK, wheelhouse)
            if any(is_set(name) for name in SERVER_VARIABLES):
                install(SERVER_LOCK, wheelhouse)
            if argv[1:2] == ["test"]:
                install(TEST_LOCK, wheelhouse)
            if not is_inside_venv():
                return start_again(argv)
        prepare_data_folder(argv)
        refuse_damaged_log(argv)
    except CannotStart as reason:
        sys.stderr.write("%s\n" % reason)
        return 1
    return run_command(argv)


def run_command(argv: List[str]) -> int:
    """Hand over to Django; where a command may not write, or has no room, it says so in words.

    The calculations need no Django, and are asked often: their door is opened directly.
    """
    if argv[1:2] == ["calc"]:
        return int(importlib.import_module("packs.calc_door").main(argv[2:]))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")
    management = importlib.import_module("django.core.management")
    folder_lock = importlib.import_module("workshop.serving.folder_lock")
    try:
        management.execute_from_command_line(argv)
    except folder_lock.FolderInUse as reason:
        sys.stderr.write("%s\n" % reason)
        return 1
    except Exception as reason:
        folder = importlib.import_module("workshop.serving.data_folder").location(ROOT)
        if not importlib.import_module("workshop.disk_full").is_disk_full(reason, folder):
            raise
        sys.stderr.write(FULL % folder)
        return 1
    return 0


def check_python() -> None:
    """Refuse an interpreter that is too old."""
    if sys.version_info[:2] < OLDEST:
        raise CannotStart(
            "Coldbus needs Python %d.%d or newer; this is %d.%d (%s)."
            % (OLDEST + sys.version_info[:2] + (sys.executable,))
        )


def take_wheelhouse(argv: List[str]) -> Optional[Path]:
    """Take ``--wheelhouse DIR`` out of ``argv``; without it, use .wheelhouse where it exists."""
    for place, word in enumerate(argv):
        name, equals, folder = word.partition("=")
        if name != "--wheelhouse":
            continue
        if not equals:
            folder = argv[place + 1] if place + 1 < len(argv) else ""
        del argv[place : place + (1 if equals else 2)]
        if not Path(folder).is_dir() or not folder:
            raise CannotStart("--wheelhouse needs a folder of wheels; %r is none." % folder)
        return Path(folder).resolve()
    return WHEELHOUSE if WHEELHOUSE.is_dir() else None


def is_inside_venv() -> bool:
    """Say whether this very interpreter is the one of .venv."""
    return Path(sys.prefix).resolve() == VENV.resolve()


def venv_python() -> Path:
    """Return where .venv keeps its interpreter."""
    return VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def start_again(argv: List[str]) -> int:
    """Run the same command with the interpreter of .venv; returns only on Windows."""
    command = [str(venv_python()), *argv]
    if os.name == "nt":
        return subprocess.call(command)
    return os.execv(command[0], command)  # noqa: S606 - a fixed path, and no shell is wanted


def marker_of(lock: Path) -> Path:
    """Return the file in .venv that says which lock was installed last."""
    return VENV / ("coldbus-" + lock.stem + ".sha256")


def fingerprint_of(lock: Path) -> str:
    """Return the digest that changes whenever the lock does."""
    return hashlib.sha256(lock.read_bytes()).hexdigest()


def is_installed(lock: Path) -> bool:
    """Say whether .venv holds what the lock names."""
    marker = marker_of(lock)
    return (
        venv_python().exists()
        and marker.is_file()
        and marker.read_text(encoding="ascii").strip() == fingerprint_of(lock)
    )


def install(lock: Path, wheelhouse: Optional[Path]) -> None:
    """Bring .venv to what the lock names; does nothing when that was done before."""
    if is_installed(lock):
        return
    make_venv()
    say("Installing the pinned packages of %s (once, and after an upgrade) …" % lock.name)
    command = [str(venv_python()), "-m", "pip", "install", "--quiet", "--require-hashes"]
    command += ["--disable-pip-version-check", "--requirement", str(lock)]
    if wheelhouse is not None:
        command += ["--no-index", "--find-links", str(wheelhouse)]
    if subprocess.call(command) != 0:
        raise CannotStart(
            "The packages could not be installed (see above). Without internet, bring a folder "
            "of wheels and start with --wheelhouse FOLDER."
        )
    marker_of(lock).write_text(fingerprint_of(lock) + "\n", encoding="ascii")


def make_venv() -> None:
    """Make .venv with pip in it, unless one that runs is there."""
    if venv_runs("import pip"):
        return
    if importlib.util.find_spec("ensurepip") is None:
        raise CannotStart(
            "This Python cannot make environments. On Debian and Ubuntu: "
            "sudo apt-get install python%d.%d-venv" % sys.version_info[:2]
        )
    if venv_runs("pass"):
        command = [str(venv_python()), "-m", "ensurepip", "--default-pip"]
    else:
        say("Making the environment %s …" % VENV)
        command = [sys.executable, "-m", "venv", "--clear", str(VENV)]
    if subprocess.call(command, stdout=subprocess.DEVNULL) != 0:
        raise CannotStart("The environment %s could not be made (see above)." % VENV)


def venv_runs(code: str) -> bool:
    """Say whether the interpreter of .venv is new enough and can run ``code``."""
    if not venv_python().exists():
        return False
    check = "import sys; assert sys.version_info[:2] >= %r; %s" % (OLDEST, code)
    command = [str(venv_python()), "-c", check]
    return subprocess.call(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) == 0


def prepare_data_folder(argv: List[str]) -> None:
    """Make the data folder and its secret key before the settings look for them."""
    if len(argv) < 2 or argv[1] in WITHOUT_DATA:  # noqa: PLR2004 - the program and its command
        return
    data_folder = importlib.import_module("workshop.serving.data_folder")
    try:
        data_folder.prepare(data_folder.location(ROOT))
    except OSError as reason:
        raise CannotStart("The data folder cannot be used: %s." % reason) from None


def refuse_damaged_log(argv: List[str]) -> None:
    """Leave a damaged log of the database as it is: whoever opens the database takes it in."""
    command = argv[1] if len(argv) > 1 else "help"
    if command in WITHOUT_DATABASE | LOOK_THEMSELVES or is_set(DATABASE_VARIABLE):
        return
    data_folder = importlib.import_module("workshop.serving.data_folder")
    write_ahead = importlib.import_module("workshop.serving.write_ahead")
    try:
        fault = write_ahead.fault_at_rest(data_folder.location(ROOT))
    except OSError as reason:
        raise CannotStart("The data folder cannot be used: %s." % reason) from None
    if fault is not None:
        raise CannotStart(fault.sentence)


def is_set(variable: str) -> bool:
    """Say whether an environment variable says anything."""
    return bool(os.environ.get(variable, "").strip())


def say(text: str) -> None:
    """Tell the person what takes the time; standard output stays the command's own."""
    sys.stderr.write(text + "\n")
    sys.stderr.flush()
