"""What a page tells the tablet for work without the network: who, since when, to which server.

The mark stands in the head of every page of somebody signed on. Not here: what the tablet does
with it (static/js) and what the door makes of it (`jobs.actions.door`).
"""

import hashlib
import json
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.http import HttpRequest

from workshop import clock
from workshop.seal_keys import public_seal
from workshop.serving import data_folder
from workshop.sign_on import MARK_KEY
from workshop.tickets import ticket_for

__all__ = ["epoch", "mark", "release"]

MANIFEST_NAME = "staticfiles.json"
RELEASE_LETTERS = 12


def epoch() -> str:
    """Give the mark of this life of the data; a restore begins another."""
    return data_folder.epoch_of(Path(settings.COLDBUS_DATA))


@lru_cache(maxsize=1)
def release() -> str:
    """Name the release by what its pages are made of: scripts, styles and templates."""
    said = hashlib.sha256()
    manifest = Path(settings.STATIC_ROOT) / MANIFEST_NAME
    if manifest.is_file():
        said.update(manifest.read_bytes())
    for path in sorted((Path(settings.BASE_DIR) / "templates").rglob("*.html")):
        said.update(path.read_bytes())
    return said.hexdigest()[:RELEASE_LETTERS]


def mark(request: HttpRequest) -> dict[str, str]:
    """Give every template ``tablet_mark``; empty where nobody is signed on."""
    person = getattr(request, "person", None)
    if person is None:
        return {"tablet_mark": ""}
    now, seal = clock.now(), public_seal()
    said = {
        "epoch": epoch(),
        "release": release(),
        "person": person.id,
        "name": person.short_name,
        "ticket": ticket_for(person.id, str(request.session.get(MARK_KEY, "")), now),
        "seal": {"id": seal.id, "spki": seal.spki},
        "now": now.isoformat(),
    }
    return {"tablet_mark": json.dumps(said)}
