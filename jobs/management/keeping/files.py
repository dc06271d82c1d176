"""The files of an installation: what is under MEDIA_ROOT, mail laid into files, and the secret key."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files.storage import FileSystemStorage, Storage, default_storage

KEY = "secret.key"


def stores() -> dict[str, Storage]:
    """By their folder in a backup."""
    found: dict[str, Storage] = {"files": default_storage}
    mailer: Any = settings.MAILERS["default"]
    if mail := mailer.get("OPTIONS", {}).get("folder"):
        found["mail"] = FileSystemStorage(
            location=mail, file_permissions_mode=0o600, directory_permissions_mode=0o700
        )
    return found


def names(store: Storage, folder: str = "") -> Iterator[str]:
    """All that a store holds, but for what is being written at the moment (a name that begins with a dot)."""
    try:
        folders, files = store.listdir(folder)
    except FileNotFoundError:
        return
    for name in sorted(files):
        if not name.startswith("."):
            yield f"{folder}/{name}" if folder else name
    for name in sorted(folders):
        yield from names(store, f"{folder}/{name}" if folder else name)


def key_file() -> Path | None:
    """The file of the secret key; None where the key is given by the environment."""
    path = Path(settings.VAR_DIR) / KEY
    try:
        return path if path.read_text().strip() == settings.SECRET_KEY else None
    except OSError:
        return None
