"""A studio whose rows are committed, whose files lie in a folder of the test, and whose secret key is a file there."""

from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from jobs.models import Role
from tests import cast

KEY = "key-of-the-studio"


@pytest.fixture
def place(tmp_path: Path, settings: Any) -> Path:
    """An installation's folder, with nothing in it but its key."""
    return move_to(tmp_path / "var", settings)


def move_to(var: Path, settings: Any, key: str = KEY) -> Path:
    var.mkdir()
    settings.VAR_DIR, settings.MEDIA_ROOT, settings.BACKUP_DIR = var, str(var / "files"), var / "backups"
    folder = {"OPTIONS": {"folder": str(var / "mail")}, "BACKEND": "studio.eml.EmlBackend"}
    settings.MAILERS = {"default": folder, "at_once": folder}
    (var / "secret.key").write_text(key)
    (var / "secret.key").chmod(0o600)
    settings.SECRET_KEY = key
    return var


@pytest.fixture
def studio(transactional_db: None, place: Path) -> Path:
    """Work, hours and accounts in the database; two kept files and a mail beside it."""
    cast.make_studio()
    cast.make_shop()
    job = cast.make_job(title="Rosette “Überlicht”; 🜁 and 'more'\n\tin two lines")
    cast.make_panel(job)
    cast.make_account("lead", Role.LEAD, first_name="Nora")
    default_storage.save("quotes/0412-1.pdf", ContentFile(b"%PDF the paper as it was sent"))
    default_storage.save("photos/2026/hall window.jpg", ContentFile(bytes(range(256)) * 9000))
    (place / "mail").mkdir(mode=0o700)
    (place / "mail" / "1.eml").write_bytes(b"Subject: Your window\r\n\r\nIt is done.")
    return place
