"""The one settings file: composition root, which names the other apps by string only.

What a shop decides (limits, hours, its time zone) is a row in a register, not a setting.
Environment variables are listed in DEVELOPERS.md, each begins with COLDBUS_.
"""

import os
import secrets
from pathlib import Path

from csp.constants import NONE, SELF

from workshop import environment
from workshop.serving import data_folder, sqlite

sqlite.prefer_fixed_library()

BASE_DIR = Path(__file__).resolve().parent.parent
COLDBUS_DATA = environment.read_folder("COLDBUS_DATA", BASE_DIR / ".coldbus")
COLDBUS_BACKUPS = environment.read_folder(
    "COLDBUS_BACKUPS", COLDBUS_DATA / data_folder.BACKUPS_NAME
)
COLDBUS_BACKUP_HOUR = environment.read_number("COLDBUS_BACKUP_HOUR", default=21, low=0, high=23)
COLDBUS_MOVABLE_CLOCK = environment.read_flag(
    "COLDBUS_MOVABLE_CLOCK", default=data_folder.is_practice(COLDBUS_DATA)
)

DEBUG = environment.read_flag("COLDBUS_DEBUG", default=False)


def _read_secret(variable: str, file_name: str) -> str:
    """Return a secret of the shop; checkers and tests have none and get one for the process."""
    given = environment.read_text(variable, "")
    if given:
        return given
    file = COLDBUS_DATA / file_name
    if file.is_file():
        return file.read_text(encoding="ascii").strip()
    return secrets.token_urlsafe(50)


SECRET_KEY = _read_secret("COLDBUS_SECRET_KEY", data_folder.KEY_NAME)
# Mixed into every stored PIN, so that the database alone does not let anyone guess them.
COLDBUS_PEPPER = _read_secret("COLDBUS_PEPPER", data_folder.PEPPER_NAME)
# A path outside the data folder, for who wants the key that signs the record on another disk.
COLDBUS_SIGNING_KEY = environment.read_text("COLDBUS_SIGNING_KEY", "")
ALLOWED_HOSTS = ["127.0.0.1", "localhost", "[::1]", *environment.read_words("COLDBUS_HOSTS", [])]

INSTALLED_APPS = [
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "csp",
    "workshop",
    "packs",
    "jobs",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "workshop.middleware.TextCompressionMiddleware",
    "workshop.middleware.ContentPolicyMiddleware",
    "workshop.middleware.AnswerHeadersMiddleware",
    "workshop.middleware.SchemeCookiesMiddleware",
    "workshop.middleware.StorableTextMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "workshop.sign_on.person_middleware",
]

ROOT_URLCONF = "workshop.urls"
WSGI_APPLICATION = "workshop.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": False,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.i18n",
                "django.contrib.messages.context_processors.messages",
                "workshop.wire.mark",
                "workshop.tablet_mark.mark",
                "workshop.script_words.words",
            ],
            "libraries": {},
        },
    }
]

# ---------------------------------------------------------------- database

SQLITE = {
    "ENGINE": "django.db.backends.sqlite3",
    "NAME": COLDBUS_DATA / data_folder.DATABASE_NAME,
    # One server process owns the file, so its connections stay open.
    "CONN_MAX_AGE": None,
    "OPTIONS": {
        "timeout": 10,
        # DEFERRED fails at once when a read turns into a write; IMMEDIATE waits its turn.
        "transaction_mode": "IMMEDIATE",
        # FULL: an acknowledged entry survives a power cut. recursive_triggers: REPLACE cannot
        # slip past the triggers that keep entries append-only.
        "init_command": (
            "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; "
            "PRAGMA recursive_triggers=ON; PRAGMA journal_size_limit=67108864;"
        ),
    },
}
DATABASES = {"default": environment.read_postgresql("COLDBUS_DATABASE_URL") or SQLITE}
# One process owns a SQLite file; a database server takes several, and its share of the cores.
CORES_A_WORKER, WORKERS_MOST = 2, 4
COLDBUS_WORKERS = (
    environment.read_number(
        "COLDBUS_WORKERS",
        default=max(1, min(WORKERS_MOST, (os.cpu_count() or 1) // CORES_A_WORKER)),
        low=1,
        high=32,
    )
    if DATABASES["default"] is not SQLITE
    else 1
)
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# ---------------------------------------------------------------- static files

STATIC_URL = "/static/"
STATIC_ROOT = COLDBUS_DATA / "staticfiles"
STATICFILES_DIRS = [BASE_DIR / "static"]
COLDBUS_PLAIN_STATIC = "django.contrib.staticfiles.storage.StaticFilesStorage"
COLDBUS_HASHED_STATIC = "whitenoise.storage.CompressedManifestStaticFilesStorage"
STORAGES = {
    "default": environment.read_storage("COLDBUS_STORAGE_URL")
    or {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": COLDBUS_PLAIN_STATIC if DEBUG else COLDBUS_HASHED_STATIC},
}
WHITENOISE_USE_FINDERS = DEBUG
# No other site has any use for these files.
WHITENOISE_ALLOW_ALL_ORIGINS = False
MEDIA_ROOT = COLDBUS_DATA / data_folder.ATTACHMENTS_NAME

# ---------------------------------------------------------------- time and language

USE_TZ = True
TIME_ZONE = "UTC"
USE_I18N = True
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("de", "Deutsch")]
LOCALE_PATHS = [BASE_DIR / "workshop" / "locale"]

# ---------------------------------------------------------------- security

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        # The import map's hash is added to script-src by ContentPolicyMiddleware.
        "script-src": [SELF],
        "style-src": [SELF],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "img-src": [SELF, "blob:", "data:"],
        "form-action": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}
COLDBUS_HTTPS = environment.read_flag("COLDBUS_HTTPS", default=False)
COLDBUS_IDLE_LOCK_MINUTES = environment.read_number(
    "COLDBUS_IDLE_LOCK_MINUTES", default=5, low=1, high=60
)
SESSION_ENGINE = "django.contrib.sessions.backends.db"
SESSION_COOKIE_NAME = "coldbus_session"
DEVICE_COOKIE_NAME = "coldbus_device"
SESSION_COOKIE_SECURE = COLDBUS_HTTPS
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_NAME = "coldbus_csrf"
CSRF_COOKIE_SECURE = COLDBUS_HTTPS
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "workshop.fault_pages.form_expired"
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
# An expired certificate of the shop's own must remain passable, so no HSTS; plain http stays
# open as the reduced mode, so no redirect and no Secure cookies there.
SILENCED_SYSTEM_CHECKS = ["security.W004", "security.W008"]
if not COLDBUS_HTTPS:
    SILENCED_SYSTEM_CHECKS += ["security.W012", "security.W016"]

DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024

# ---------------------------------------------------------------- logging

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {
            "()": "workshop.log_lines.LineFormatter",
            "format": "{asctime} {levelname} {name}: {message}",
            "style": "{",
        }
    },
    "filters": {"calm": {"()": "workshop.log_lines.CalmFilter"}},
    "handlers": {
        "console": {"class": "logging.StreamHandler", "formatter": "line"},
        "calm": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["calm"]},
    },
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {
        # workshop.fault_pages logs each error once, with the short number the person was shown.
        "django.request": {"level": "CRITICAL"},
        # What is refused for how it was asked; anybody on the network can cause it.
        "django.security": {"handlers": ["calm"], "propagate": False},
        "coldbus": {"level": "INFO"},
    },
}
