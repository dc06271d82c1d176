"""Files in a store of objects, which has no path on this computer and no folders: whatever is kept goes through it.

Bundles of papers are in tests/tasks/test_bundles.py.
"""

import json
import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.photos import add_photo, sweep_photo_files, take_back_photo
from jobs.management.keeping.backup import make_backup
from jobs.management.keeping.files import names
from jobs.management.keeping.restore import restore
from jobs.models import Account
from tests import cast
from tests.cast import at
from tests.keeping.conftest import move_to
from tests.photos import picture
from tests.places import empty_place
from tests.stores import elsewhere


@pytest.fixture(autouse=True)
def store(settings: Any) -> None:
    elsewhere(settings)


def test_photos_are_taken_shown_taken_back_and_swept(
    office: Account, office_client: Client, django_capture_on_commit_callbacks: Any
) -> None:
    assert sweep_photo_files(at(3)) == 0
    by = Actor(account=office)
    photo = add_photo(cast.make_panel(cast.make_job()), picture(), by=by, at=at(3))
    address = reverse("photo-picture", args=[photo.pk])
    answer = office_client.get(address)
    assert answer.content == default_storage.open(str(photo.file.name)).read()
    default_storage.save("photos/left.jpg", ContentFile(b"left"))
    assert sweep_photo_files(timezone.now() + timedelta(days=2)) == 1
    with django_capture_on_commit_callbacks(execute=True):
        take_back_photo(photo, by=by, at=at(3))
    assert list(names(default_storage)) == []
    assert office_client.get(address).status_code == 404


def test_a_backup_holds_them_and_puts_them_back(
    transactional_db: None, shop: None, settings: Any, tmp_path: Path
) -> None:
    move_to(tmp_path / "var", settings)
    default_storage.save("quotes/0412-1.pdf", ContentFile(b"%PDF as it was sent"))
    path, manifest = make_backup(tmp_path / "kept", connection, at=at(2))
    elsewhere(settings)
    assert not list(names(default_storage))
    with empty_place(tmp_path) as place:
        assert restore(path, place).rows == manifest.rows
    assert list(names(default_storage)) == ["quotes/0412-1.pdf"]
    assert default_storage.open("quotes/0412-1.pdf").read() == b"%PDF as it was sent"


def test_the_environment_names_the_store(tmp_path: Path) -> None:
    told = {"FILES_OPTIONS": json.dumps({"location": str(tmp_path)}), "VAR_DIR": str(tmp_path)}
    code = "import django; django.setup(); from django.core.files.storage import default_storage as store; "
    code += "print(store.path('x'))"
    environment = os.environ | told | {"DJANGO_SETTINGS_MODULE": "studio.settings"}
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == str(tmp_path / "x")
