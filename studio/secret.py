"""The secret key of an installation: made on first run, kept outside git, readable by its owner alone."""

import os
import tempfile
from pathlib import Path

from django.core.management.utils import get_random_secret_key


def read_or_make(path: Path) -> str:
    """The key in the file at `path`; a file that is not there is made with mode 600.

    Two processes that start together agree: the loser of the race reads what the winner wrote.
    Raises OSError where the folder cannot be written.
    """
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    key = get_random_secret_key()
    handle, name = tempfile.mkstemp(prefix=path.name, dir=path.parent)  # Mode 600.
    scratch = Path(name)
    with os.fdopen(handle, "w") as file:
        file.write(key)
    try:
        # A hard link appears whole or not at all, and refuses to replace a key that is there.
        os.link(scratch, path)
    except FileExistsError:
        return path.read_text().strip()
    finally:
        scratch.unlink()
    return key
