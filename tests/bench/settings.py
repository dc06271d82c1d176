"""Settings of the measurements: the tests', but each write is flushed to disk, as an installation's is."""

from tests.settings import *  # noqa: F403
from tests.settings import DATABASES

OPTIONS = DATABASES["default"]["OPTIONS"]
OPTIONS["init_command"] = OPTIONS["init_command"].replace("synchronous=OFF", "synchronous=FULL")
ROOT_URLCONF = "tests.bench.urls"
