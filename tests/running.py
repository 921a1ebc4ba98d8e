"""Starts a server of its own, with a data folder of its own, for tests that need a whole one."""

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import Thread

from tests.house.sources import ROOT

READY = re.compile(r"Coldbus is ready: (https?://\S+/)")
STOP_WITHIN_S = 15
SAYS_WITHIN_S = 15


@dataclass
class Running:
    """A server that answers at ``address``; ``said`` grows with whatever it says after that."""

    address: str
    folder: Path
    process: subprocess.Popen[str]
    said: list[str] = field(default_factory=list)
    listener: Thread = field(init=False)

    def __post_init__(self) -> None:
        """Listen: a server whose words nobody reads stands still once the pipe is full."""
        self.listener = Thread(target=self._listen, daemon=True)

    def _listen(self) -> None:
        with suppress(ValueError, OSError):
            self.said.extend(self.process.stdout or ())

    def told(self, wanted: re.Pattern[str]) -> re.Match[str]:
        """Wait until the server has said something after its address."""
        until = time.monotonic() + SAYS_WITHIN_S
        while time.monotonic() < until:
            found = next(filter(None, map(wanted.search, self.said)), None)
            if found is not None:
                return found
            time.sleep(0.02)
        raise AssertionError(f"{wanted.pattern} is not in:\n" + "".join(self.said))

    def stop(self, by: signal.Signals = signal.SIGTERM) -> int:
        """Ask it to stop and return its exit status; by then all is heard that it said."""
        self.process.send_signal(by)
        status = self.process.wait(timeout=STOP_WITHIN_S)
        self.listener.join(STOP_WITHIN_S)
        return status


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
                    running = Running(ready[1], folder, process)
                    running.listener.start()
                    yield running
                    break
            else:
                raise AssertionError("The server did not start:\n" + "".join(said))
        finally:
            if process.poll() is None:
                process.terminate()
                process.wait(timeout=STOP_WITHIN_S)
