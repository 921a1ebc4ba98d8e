"""Plain http beside https: a thread in the server's worker, for start page and reduced mode.

In the worker, because one process owns the database. Which requests get which page is not
decided here (`workshop.sign_on`, `workshop.views.start`).
"""

import logging
import os
from threading import Thread
from typing import Any, Final

from waitress.server import create_server

from workshop.serving.one_of_many import is_the_one

__all__ = ["PLACE_VARIABLE", "start_in_worker"]

PLACE_VARIABLE: Final = "COLDBUS_PLAIN_AT"
"""Where the worker listens for plain http, ADDRESS:PORT; set by the server that starts it."""
THREADS: Final = 2
LOG = logging.getLogger("coldbus.plain")


def start_in_worker(application: Any) -> bool:
    """Listen for plain http where this process is the worker of ``up`` and was told to.

    Parameters
    ----------
    application : WSGI application
        The same that is served over https.

    Returns
    -------
    bool
        Whether it listens.
    """
    place = os.environ.get(PLACE_VARIABLE, "")
    if not place or not is_the_one():
        return False
    host, _, port = place.rpartition(":")
    try:
        server = create_server(application, host=host, port=int(port), threads=THREADS, ident=None)
    except OSError as fault:
        LOG.warning("Plain http at %s could not be opened: %s", place, fault)
        return False
    Thread(target=server.run, name="plain http", daemon=True).start()
    return True
