"""The WSGI application that the server process loads."""

import importlib
import os

from django.core.wsgi import get_wsgi_application
from django.db import connection

from workshop.turns import Application, InTurn

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")

application: Application = get_wsgi_application()
if connection.vendor == "sqlite":
    # A database server is waited for, by several workers at once: there others compute meanwhile.
    application = InTurn(application)
# Not before: the settings choose the SQLite library that both then use.
importlib.import_module("workshop.backups.daily").start_in_worker()
importlib.import_module("workshop.upkeep").start_in_worker()
importlib.import_module("workshop.serving.plain_door").start_in_worker(application)
