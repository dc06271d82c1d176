"""Settings of the tests: production's, with plain static files, quick hashing and nothing written outside."""

import tempfile

from studio.settings import *  # noqa: F403
from studio.settings import STORAGES

SECRET_KEY = "only-for-tests"
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
STORAGES = STORAGES | {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
MEDIA_ROOT = tempfile.mkdtemp(prefix="studio-tests-")
AXES_ENABLED = False
