"""The server process: one worker, a few threads; https on the network, plain http beside it."""

import ctypes
import gc
import os
import socket
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from threading import Thread
from typing import Any

from django.conf import settings
from django.core.wsgi import get_wsgi_application
from django.db import connections
from django.urls import get_resolver
from granian.constants import HTTPModes, Interfaces
from granian.log import LogLevels
from granian.server.mp import MPServer
from typing_extensions import override

from workshop import clock
from workshop.serving.authority.keeping import Kept
from workshop.serving.folder_lock import HOLDER_VARIABLE
from workshop.serving.network import Listening
from workshop.serving.plain_door import PLACE_VARIABLE
from workshop.serving.renewal import LOOK_EVERY_S, Renewal

APPLICATION = "workshop.wsgi:application"
THREADS = 4
# How long a request under way may take to finish after the server was told to stop.
STOP_WITHIN_S = 5
KNOCK_EVERY_S = 0.02
M_ARENA_MAX = -8
"""Of glibc's ``malloc.h``: how many heaps there may be."""


class PortTaken(Exception):
    """Something else listens at the port."""


def choose_port(address: str, port: int) -> int:
    """Return the port where it is free at that address; for 0, any free one.

    Raises
    ------
    PortTaken
        Where something listens there already.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        if os.name == "posix":
            # A port still cooling down from the last run is free for a server.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((address, port))
        except OSError:
            raise PortTaken(
                f"Port {port} is taken by another program, perhaps a Coldbus that still runs. "
                "Stop that, or choose another with --port."
            ) from None
        chosen: int = probe.getsockname()[1]
    return chosen


def load_application() -> None:
    """Load application and addresses, so that a mistake shows before the address is printed."""
    get_wsgi_application()
    _ = get_resolver().url_patterns


def share_memory() -> None:
    """Let the worker, a fork, share what is loaded by now, and keep one heap for its threads.

    The collector leaves alone what it was told to, so those pages are not copied. The heap of glibc
    is otherwise one a thread, each as large as the dearest page made it; the interpreter runs one
    thread at a time, so they have little to contend for. Where there is no such setting, it stays.
    """
    gc.collect()
    gc.freeze()
    if sys.platform == "linux":
        with suppress(OSError, AttributeError):
            ctypes.CDLL(None).mallopt(M_ARENA_MAX, 1)


class Server(MPServer):
    """The server, which says where it is once its worker takes connections."""

    announce: Callable[[str], None]
    knock_at: str
    scheme: str = "http"
    renewal: Renewal | None = None
    workers_begun: int = 0

    @override
    def startup(self, *args: Any, **kwargs: Any) -> None:
        """Start the worker, then wait for it beside the main loop."""
        super().startup(*args, **kwargs)  # type: ignore[no-untyped-call]
        # Not before: the worker is a fork, which must not happen while another thread runs.
        Thread(target=self.announce_when_ready, daemon=True).start()
        self.look_out()

    def look_out(self) -> None:
        """Look now and then whether another worker is due; not while one is being started."""
        self.workers_begun += 1
        if self.renewal is not None:
            mine = (self.renewal, self.workers_begun)
            Thread(target=self.wait_for_renewal, args=mine, daemon=True).start()

    def wait_for_renewal(self, renewal: Renewal, begun: int) -> None:
        """Wait until another worker is due, ask the main loop for it, and end."""
        while True:
            time.sleep(LOOK_EVERY_S)
            if begun != self.workers_begun:
                return
            if renewal.is_due(clock.now()):
                self.signal_handler_reload()  # type: ignore[no-untyped-call]
                return

    @override
    def _reload(self, spawn_target: Any, target_loader: Any) -> None:
        """End the worker, then start another: two at once would both own the database."""
        self.reload_signal = False
        self.main_loop_interrupt.clear()
        if self.renewal is not None:
            self.renewal.do(clock.now())
        self._stop_workers()  # type: ignore[no-untyped-call]
        self._spawn_workers(spawn_target, target_loader)  # type: ignore[no-untyped-call]
        Thread(target=self.announce_when_ready, daemon=True).start()
        self.look_out()

    def announce_when_ready(self) -> None:
        """Knock until somebody opens."""
        while True:
            try:
                with socket.create_connection((self.knock_at, self.bind_port), timeout=1):
                    break
            except OSError:
                time.sleep(KNOCK_EVERY_S)
        self.announce(f"{self.scheme}://{self.knock_at}:{self.bind_port}/")


def serve(
    where: Listening,
    announce: Callable[[str], None],
    kept: Kept | None = None,
    renewal: Renewal | None = None,
) -> None:
    """Serve until SIGINT or SIGTERM; ``announce`` gets the address once connections are taken.

    The caller holds the data folder's lock; the worker writes on its behalf. With a certificate
    (``kept``) it is https at ``where.https_port`` and plain http beside it at ``where.port``.
    ``announce`` is called for each worker, so again after what ``renewal`` found due.
    """
    load_application()
    os.environ[HOLDER_VARIABLE] = str(os.getpid())
    os.environ[PLACE_VARIABLE] = "" if kept is None else f"{where.address}:{where.port}"
    # The worker may be a fork of this process, and a connection must not be shared by two.
    connections.close_all()
    share_memory()
    server = Server(
        APPLICATION,
        address=where.address,
        port=where.port if kept is None else where.https_port,
        ssl_cert=None if kept is None else kept.certificate,
        ssl_key=None if kept is None else kept.key,
        interface=Interfaces.WSGI,
        workers=settings.COLDBUS_WORKERS,
        blocking_threads=THREADS,
        http=HTTPModes.http1,
        websockets=False,
        log_level=LogLevels.warning,
        workers_kill_timeout=STOP_WITHIN_S,
    )
    server.announce = announce
    server.renewal = renewal
    server.knock_at = where.knock
    server.scheme = "http" if kept is None else "https"
    server.serve()
