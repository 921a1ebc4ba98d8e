"""Starts a server of its own, with a data folder of its own, for tests that need a whole one."""

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.house.sources import ROOT

READY = re.compile(r"Coldbus is ready: (https?://\S+/)")
STOP_WITHIN_S = 15


@dataclass(frozen=True)
class Running:
    """A server that answers at ``address``."""

    address: str
    folder: Path
    process: subprocess.Popen[str]

    def stop(self, by: signal.Signals = signal.SIGTERM) -> int:
        """Ask it to stop and return its exit status."""
        self.process.send_signal(by)
        return self.process.wait(timeout=STOP_WITHIN_S)


def manage(
    folder: Path, *words: str, also: Mapping[str, str] | None = None
) -> subprocess.Popen[str]:
    """Start ``manage.py`` with a data folder of its own, in this very environment.

    ``also`` are further settings, such as where the database is.
    """
    inherited = {name: text for name, text in os.environ.items() if "COLDBUS" not in name}
    own = {"COLDBUS_DATA": str(folder), "COLDBUS_OWN_PYTHON": "1", "PYTHONUNBUFFERED": "1"}
    return subprocess.Popen(
        [sys.executable, str(ROOT / "manage.py"), *words],
        env={**inherited, **own, "COLDBUS_MOVABLE_CLOCK": "0", **(also or {})},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


@contextmanager
def running_server(
    folder: Path, *options: str, port: str = "0", also: Mapping[str, str] | None = None
) -> Iterator[Running]:
    """Serve inside the block; on a free port, unless one is named."""
    with manage(folder, "up", "--port", port, *options, also=also) as process:
        said = []
        try:
            for line in process.stdout or ():
                said.append(line)
                ready = READY.search(line)
                if ready is not None:
                    yield Running(ready[1], folder, process)
                    break
            else:
                raise AssertionError("The server did not start:\n" + "".join(said))
        finally:
            if process.poll() is None:
                process.terminate()
                process.wait(timeout=STOP_WITHIN_S)
