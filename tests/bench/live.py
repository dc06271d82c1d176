"""What screens cost that ask every two seconds: requests a second of one process, and the share that twenty take."""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.bench.killed import PREPARE
from tests.bench.limits import at_most

SCREENS, EVERY, ROUNDS = 20, 2, 400
MEASURE = (
    PREPARE
    + f"""
import time
from django.test import Client
client = Client()
client.force_login(account, backend="django.contrib.auth.backends.ModelBackend")
etag = client.get("/pulse/")["ETag"]
for _ in range(20):
    client.get("/pulse/", headers={{"If-None-Match": etag}})
begun = time.process_time()
for _ in range({ROUNDS}):
    assert client.get("/pulse/", headers={{"If-None-Match": etag}}).status_code == 304
print(json.dumps({{"seconds": (time.process_time() - begun) / {ROUNDS}}}))
"""
)


def run() -> list[tuple[str, str]]:
    with tempfile.TemporaryDirectory(prefix="studio-live-") as folder:
        environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
        environment |= {"VAR_DIR": folder, "DEBUG": "off", "DJANGO_SETTINGS_MODULE": "tests.settings"}
        done = subprocess.run(
            [sys.executable, "-c", MEASURE],
            cwd=Path(__file__).resolve().parents[2],
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        )
    seconds = json.loads(done.stdout.splitlines()[-1])["seconds"]
    share = 100 * SCREENS / EVERY * seconds
    return [
        ("a question whether anything changed, processor time", f"{seconds * 1000:.2f} ms"),
        ("such questions a second that one core could answer", f"{1 / seconds:.0f}"),
        (f"{SCREENS} screens that ask every {EVERY} s, of one core", at_most(share, 10, " %")),
    ]
