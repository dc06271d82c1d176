"""Settings of one of several machines: an installation's, with quick passwords and static files as they lie."""

from studio.settings import *  # noqa: F403
from studio.settings import STORAGES

STORAGES = STORAGES | {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
