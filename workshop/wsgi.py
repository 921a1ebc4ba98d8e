"""The WSGI application that the server process loads."""

import importlib
import os

from django.core.wsgi import get_wsgi_application

from workshop.turns import InTurn

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")

application = InTurn(get_wsgi_application())
# Not before: the settings choose the SQLite library that both then use.
importlib.import_module("workshop.backups.daily").start_in_worker()
importlib.import_module("workshop.upkeep").start_in_worker()
importlib.import_module("workshop.serving.plain_door").start_in_worker(application)
