"""Servers of this very process: https that a browser trusts, and plain http from elsewhere.

The certificate is of the workshop's own authority, made as the product makes it.
"""

import shutil
import socket
import ssl
import subprocess
import sys
from pathlib import Path
from typing import Any, Final

from django.core.servers.basehttp import ThreadedWSGIServer
from django.test.testcases import LiveServerThread, QuietWSGIRequestHandler
from typing_extensions import override

from workshop.serving.authority.keeping import Kept

CERTUTIL: Final = shutil.which("certutil")
ELSEWHERE: Final = "192.168.4.31"
MISSING: Final = "certutil is missing: install libnss3-tools to trust a certificate"


def trust(home: Path, authority: Path) -> None:
    """Let a browser with this home trust an authority, as a person does in its settings."""
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    base = [str(CERTUTIL), "-d", f"sql:{store}"]
    subprocess.run([*base, "-N", "--empty-password"], check=True)
    asked = ["-A", "-t", "C,,", "-n", "workshop", "-i", str(authority)]
    subprocess.run([*base, *asked], check=True)


class EncryptedServer(ThreadedWSGIServer):
    """Django's server for tests, over https."""

    context: ssl.SSLContext

    @override
    def get_request(self) -> tuple[socket.socket, Any]:
        """Take a connection; its handshake is made in its own thread, so that none waits."""
        taken, address = super().get_request()
        wrapped = self.context.wrap_socket(taken, server_side=True, do_handshake_on_connect=False)
        return wrapped, address

    @override
    def setup_environ(self) -> None:
        super().setup_environ()
        # By this the application knows that a request came over https.
        self.base_environ["HTTPS"] = "on"

    @override
    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing of a tablet that left in the middle; that is what is played here."""
        if not isinstance(sys.exc_info()[1], OSError):
            super().handle_error(request, client_address)


class EncryptedThread(LiveServerThread):
    """Serves over https with a certificate of the workshop."""

    def __init__(self, host: str, static_handler: Any, kept: Kept) -> None:
        super().__init__(host, static_handler)
        self.kept = kept

    @override
    def _create_server(self, connections_override: Any = None) -> Any:  # type: ignore[misc]
        server = EncryptedServer(
            (self.host, self.port),
            QuietWSGIRequestHandler,
            allow_reuse_address=False,
            connections_override=connections_override,
        )
        server.context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        server.context.load_cert_chain(self.kept.certificate, self.kept.key)
        return server


class FromElsewhere(QuietWSGIRequestHandler):
    """Takes a request as if another computer of the workshop's network had sent it."""

    @override
    def get_environ(self) -> dict[str, Any]:
        """Say where the request comes from."""
        return {**super().get_environ(), "REMOTE_ADDR": ELSEWHERE}


class PlainThread(LiveServerThread):
    """Serves plain http to the workshop's network, which is this computer in truth."""

    @override
    def _create_server(self, connections_override: Any = None) -> Any:  # type: ignore[misc]
        return ThreadedWSGIServer(
            (self.host, self.port),
            FromElsewhere,
            allow_reuse_address=False,
            connections_override=connections_override,
        )
