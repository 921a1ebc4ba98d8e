"""The import map: which hashed file stands behind each name that our scripts import.

Scripts import one another by plain names (./outbox.js); the released files carry a hash in
their names. The map bridges the two, and its own hash admits it to the content policy.
"""

import base64
import hashlib
import json
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.templatetags.static import static

SCRIPTS = "js"


@lru_cache(maxsize=1)
def import_map_text() -> str:
    """Return the map as JSON: plain address of each script to the address that is served."""
    folder = Path(settings.BASE_DIR) / "static"
    names = [
        path.relative_to(folder).as_posix() for path in sorted((folder / SCRIPTS).rglob("*.js"))
    ]
    imports = {settings.STATIC_URL + name: static(name) for name in names}
    # "<" never ends the script element early.
    return json.dumps({"imports": imports}, sort_keys=True).replace("<", "\\u003c")


@lru_cache(maxsize=1)
def import_map_hash() -> str:
    """Return the content-policy source that admits the map, ``'sha256-…'``."""
    digest = hashlib.sha256(import_map_text().encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"
