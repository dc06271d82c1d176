"""A store of objects, as clouds have them: no path on this computer, and no folders but in names."""

from typing import Any

from django.core.files.storage import InMemoryStorage


class Objects(InMemoryStorage):
    def exists(self, name: str) -> bool:
        """Folders do not exist there."""
        try:
            super().listdir(name)
        except NotADirectoryError:
            return True
        except FileNotFoundError:
            return False
        return False

    def listdir(self, path: str) -> tuple[list[str], list[str]]:
        try:
            return super().listdir(path)
        except FileNotFoundError:
            return [], []


def elsewhere(settings: Any) -> None:
    """Keep files in such a store for the rest of the test."""
    settings.STORAGES = settings.STORAGES | {"default": {"BACKEND": "tests.stores.Objects"}}
