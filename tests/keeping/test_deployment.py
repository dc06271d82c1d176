"""The files that run an installation: they fit each other, the checkout and systemd."""

import re
import shutil
import subprocess
from io import StringIO
from pathlib import Path
from typing import Any

import environ
import pytest
from django.core.management import CommandError, call_command

from jobs.management.commands.deployment import UNITS, deployment

HOST = "floor.studio.example"


@pytest.fixture
def files(settings: Any, tmp_path: Path) -> dict[str, str]:
    settings.BASE_DIR = Path(__file__).resolve().parents[2]
    settings.VAR_DIR, settings.BACKUP_DIR = Path("/srv/studio/var"), Path("/mnt/other/backups")
    return deployment(HOST, "studio", port=8123)


def test_pages_worker_and_backup_run_from_this_checkout(files: dict[str, str], settings: Any) -> None:
    for name, runs in {
        "studio-web.service": "gunicorn studio.wsgi --bind 127.0.0.1:8123",
        "studio-worker.service": "python manage.py worker",
        "studio-backup.service": "python manage.py backup",
    }.items():
        assert f"ExecStart={settings.BASE_DIR}/.venv/bin/{runs}" in files[name]
        assert "\nUser=studio\n" in files[name]
        assert "ReadWritePaths=/srv/studio/var -/mnt/other/backups\n" in files[name]
        assert "ProtectSystem=strict" in files[name]
    assert "Persistent=true" in files["studio-backup.timer"]
    assert not [text for text in files.values() if re.search(r"\{\w+\}", text)]


def test_the_proxy_leads_to_the_pages_and_the_settings_believe_it(
    files: dict[str, str], tmp_path: Path
) -> None:
    assert files["Caddyfile"].count("reverse_proxy 127.0.0.1:8123") == 1
    assert f"\n{HOST} {{\n" in files["Caddyfile"]
    assert "tls internal\n" not in files["Caddyfile"]
    assert "\n\ttls internal\n" in deployment(HOST, "studio", internal=True)["Caddyfile"]
    kept = tmp_path / "settings.env"
    kept.write_text(files["settings.env"])
    found: dict[str, str] = {}

    class Reader(environ.Env):
        ENVIRON = found

    Reader.read_env(kept)
    assert found["ALLOWED_HOSTS"] == HOST
    assert found["BASE_URL"] == found["CSRF_TRUSTED_ORIGINS"] == f"https://{HOST}"
    assert found["SECURE"] == found["BEHIND_PROXY"] == "on"
    assert found["VAR_DIR"] == "/srv/studio/var"


def test_systemd_understands_the_units(files: dict[str, str], tmp_path: Path) -> None:
    if not (verify := shutil.which("systemd-analyze")):
        pytest.skip("There is no systemd here")
    for name in UNITS:
        # An account and folders that are here stand for those of the installation.
        text = files[name].replace("User=studio", "User=root").replace("Group=studio", "Group=root")
        (tmp_path / name).write_text(text)
    command = [verify, "verify", *(str(tmp_path / name) for name in UNITS)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "Unknown" not in done.stderr


def test_the_command_writes_into_its_folder_alone(tmp_path: Path) -> None:
    out = StringIO()
    call_command("deployment", tmp_path / "new", "--host", HOST, stdout=out)
    written = {path.name for path in (tmp_path / "new").iterdir()}
    assert written == {*UNITS, "Caddyfile", "settings.env"}
    assert len(out.getvalue().splitlines()) == len(written)


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--host", "https://floor.studio.example"], "without https://"),
        (["--host", "floor.example {"], "--host is a name"),
        (["--host", HOST, "--user", "a b"], "--user is the name of an account"),
    ],
)
def test_what_cannot_be_meant_is_refused(tmp_path: Path, options: list[str], sentence: str) -> None:
    with pytest.raises(CommandError, match=sentence):
        call_command("deployment", tmp_path / "new", *options)
    assert not (tmp_path / "new").exists()
