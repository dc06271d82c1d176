"""Settings of the tests: production's, with plain static files, quick hashing and nothing written outside."""

import tempfile

from studio.settings import *  # noqa: F403
from studio.settings import DATABASES, STORAGES

SECRET_KEY = "only-for-tests"
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
STORAGES = STORAGES | {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
MEDIA_ROOT = tempfile.mkdtemp(prefix="studio-tests-")
_MAIL = {"BACKEND": "studio.eml.EmlBackend", "OPTIONS": {"folder": f"{MEDIA_ROOT}/mail"}}
MAILERS = {"default": _MAIL, "at_once": _MAIL}
AXES_ENABLED = False
# Nothing is renewed from a thread while a test holds its transaction open: SQLite would have the thread wait for it.
LEASE_SECONDS = 3600

if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # A file, as an installation has: the browser tests' server then waits for a writer, where one connection shared
    # in memory would refuse it. Nothing outlives a run, so nothing is flushed to disk.
    DATABASES["default"]["TEST"] = {"NAME": f"{MEDIA_ROOT}/tests.sqlite3"}
    DATABASES["default"]["OPTIONS"]["init_command"] = "PRAGMA journal_mode=WAL;PRAGMA synchronous=OFF;"
