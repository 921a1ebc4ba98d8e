"""The bare floor of a posted entry: an empty Django view with one durable insert, nothing else.

Served like the workshop: the same server with the same number of threads, the same settings of
the database, one writer at a time. Run as a program: ``python -m tests.bench.bare_floor PORT``.
"""

import os
import sys
import uuid
from threading import RLock
from typing import Any

from django.conf import settings as bare
from django.core.wsgi import get_wsgi_application
from django.db import connection, transaction
from django.http import HttpRequest, JsonResponse
from django.urls import path

TABLE = "CREATE TABLE IF NOT EXISTS line (key varchar(36) PRIMARY KEY, said text)"
_TURN = RLock()


def _database() -> dict[str, Any]:
    from workshop import settings as shop  # noqa: PLC0415 - not in the server's parent

    return shop.DATABASES["default"]


def insert(request: HttpRequest) -> JsonResponse:
    """Write the body down, for good."""
    with _TURN, transaction.atomic(), connection.cursor() as cursor:
        words = [str(uuid.uuid4()), request.body.decode()]
        cursor.execute("INSERT INTO line VALUES (%s, %s)", words)
    return JsonResponse({"answers": [{"verdict": "applied"}]})


urlpatterns = [path("entries/", insert)]


def application() -> Any:
    """Make the application, and its table where there is none."""
    bare.configure(
        DATABASES={"default": _database()},
        ROOT_URLCONF="tests.bench.bare_floor",
        SECRET_KEY=uuid.uuid4().hex,
        ALLOWED_HOSTS=["127.0.0.1"],
        USE_TZ=True,
    )
    made = get_wsgi_application()
    with connection.cursor() as cursor:
        cursor.execute(TABLE)
    return made


def main(port: int) -> None:
    """Serve until told to stop."""
    from granian.constants import HTTPModes, Interfaces  # noqa: PLC0415 - the program's alone
    from granian.server.mp import MPServer  # noqa: PLC0415

    os.environ.pop("DJANGO_SETTINGS_MODULE", None)
    MPServer(
        "tests.bench.bare_floor:application",
        address="127.0.0.1",
        port=port,
        interface=Interfaces.WSGI,
        workers=1,
        blocking_threads=4,
        http=HTTPModes.http1,
        websockets=False,
        factory=True,
    ).serve()


if __name__ == "__main__":
    main(int(sys.argv[1]))
