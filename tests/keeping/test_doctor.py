"""Each sentence of `manage.py doctor`, on an installation that is well but for one thing."""

import os
import smtplib
from collections.abc import Iterator
from datetime import datetime, timedelta
from io import StringIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import call_command
from django.db import OperationalError, connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django_tasks_db.models import DBTaskResult

from jobs.management.doctor import examine, place, running
from jobs.management.keeping.rotation import name_at
from jobs.models import Account, Event, Mail, MailKind, MailState, PlanState, Role, Studio
from jobs.models.append_only import disarm
from jobs.tasks.bundles import make_bundle
from tests import cast
from tests.keeping.conftest import move_to
from tests.mail import Server

NOW = cast.at(2, "10:00")
SMTP = {"BACKEND": "django.core.mail.backends.smtp.EmailBackend", "OPTIONS": {"host": "mail.studio.example"}}


@pytest.fixture
def well(tmp_path: Path, settings: Any, shop: None, monkeypatch: Any) -> Iterator[Path]:
    """Nothing wrong and nothing to note at 10:00 of the 2nd of March."""
    var = move_to(tmp_path / "var", settings, "k" * 50)
    var.chmod(0o700)
    settings.STATIC_ROOT = var / "static"
    settings.STATIC_ROOT.mkdir()
    (settings.STATIC_ROOT / "staticfiles.json").write_text("{}")
    settings.BACKUP_DIR.mkdir(mode=0o700)
    (settings.BACKUP_DIR / name_at(NOW - timedelta(hours=8))).write_bytes(b"12345678")
    settings.ALLOWED_HOSTS = ["floor.studio.example"]
    settings.BASE_URL = settings.PUBLIC_ADDRESS = "https://floor.studio.example"
    settings.SECURE = settings.BEHIND_PROXY = True
    settings.MAIL_FROM = "office@studio.example"
    settings.MAILERS = {"default": SMTP, "at_once": {"BACKEND": "tests.mail.Server"}}
    Server.fresh()
    cast.make_account("lead", Role.LEAD)
    PlanState.objects.update_or_create(pk=1, defaults={"planned_at": NOW - timedelta(minutes=5)})
    for path in [var / "secret.key", settings.BACKUP_DIR]:
        os.utime(path, (NOW.timestamp(), NOW.timestamp()))
    # Files of this checkout and of the tests' database are newer than the tests' clock, and so is PostgreSQL's.
    monkeypatch.setattr(running, "_files", lambda: [var / "secret.key"])
    apart = {"st_dev": 1}
    monkeypatch.setattr(place, "_device", lambda path: apart.setdefault(str(path), len(apart)))
    yield var
    Server.fresh()


def said(at: datetime = NOW) -> list[str]:
    return [("" if finding.wrong else "note: ") + finding.sentence for finding in examine(at=at)]


def only(beginning: str, at: datetime = NOW) -> None:
    found = said(at)
    assert len(found) == 1, found
    assert found[0].startswith(beginning), found


def test_nothing_is_wrong(well: Path) -> None:
    assert said() == []


def test_the_command_ends_with_one_where_something_is(well: Path, monkeypatch: Any, settings: Any) -> None:
    monkeypatch.setattr("jobs.management.commands.doctor.timezone", SimpleNamespace(now=lambda: NOW))
    out = StringIO()
    call_command("doctor", stdout=out)
    assert out.getvalue() == "Nothing is wrong.\n"
    settings.PUBLIC_ADDRESS = ""
    call_command("doctor", stdout=out)
    assert "Note: PUBLIC_ADDRESS is not set" in out.getvalue()
    settings.DEBUG = True
    with pytest.raises(SystemExit) as ended:
        call_command("doctor", stdout=out)
    assert ended.value.code == 1
    assert "Wrong: DEBUG is on" in out.getvalue()


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"DEBUG": True}, "DEBUG is on"),
        ({"DEMO": True}, "DEMO is on"),
        ({"ALLOWED_HOSTS": ["*"]}, "ALLOWED_HOSTS lets in any name"),
        ({"SECURE": False}, "SECURE is off: passwords and hours travel"),
        ({"BEHIND_PROXY": False}, "SECURE is on and BEHIND_PROXY is off"),
        ({"BASE_URL": ""}, "note: BASE_URL is not set: codes on papers"),
        ({"PUBLIC_ADDRESS": ""}, "note: PUBLIC_ADDRESS is not set: mail carries no link"),
        ({"BASE_URL": "floor.studio.example"}, "BASE_URL is no address"),
        ({"BASE_URL": "http://floor.studio.example"}, "BASE_URL begins with http://"),
        (
            {"PUBLIC_ADDRESS": "https://else.example/"},
            "PUBLIC_ADDRESS leads to else.example, which ALLOWED_HOSTS does not",
        ),
        ({"SECRET_KEY": "short"}, "SECRET_KEY is short"),
        ({"MAIL_FROM": "studio@localhost"}, "MAIL_FROM is not set"),
    ],
)
def test_settings(well: Path, settings: Any, values: dict[str, Any], sentence: str) -> None:
    for name, value in values.items():
        setattr(settings, name, value)
    only(sentence)


def test_only_this_computer_is_let_in(well: Path, settings: Any) -> None:
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1"]
    settings.BASE_URL = settings.PUBLIC_ADDRESS = "https://localhost"
    only("ALLOWED_HOSTS names this computer alone")
    settings.SECURE = False
    only("ALLOWED_HOSTS names this computer alone")


def test_mail_as_files_is_a_note(well: Path, settings: Any) -> None:
    settings.MAILERS = {
        "default": {"BACKEND": "studio.eml.EmlBackend", "OPTIONS": {"folder": str(well / "mail")}}
    }
    only("note: SMTP_HOST is not set")


@pytest.mark.parametrize(
    ("trouble", "sentence"),
    [
        (
            ConnectionRefusedError(111, "Connection refused"),
            "cannot be used: Connection refused. See SMTP_HOST",
        ),
        (smtplib.SMTPAuthenticationError(535, b"no"), "cannot be used: (535"),
    ],
)
def test_the_mail_server_cannot_be_used(well: Path, trouble: Exception, sentence: str) -> None:
    Server.at_open = trouble
    only(f"The mail server mail.studio.example {sentence}")


def test_little_room(well: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr(
        "shutil.disk_usage", lambda folder: SimpleNamespace(free=4e8 if folder == well else 9e12)
    )
    only(f"The disk of {well} has 0.4 GB left, of 1.0 GB that are wanted")


def test_no_room_for_the_next_backup(well: Path, monkeypatch: Any, settings: Any) -> None:
    with (settings.BACKUP_DIR / name_at(NOW - timedelta(days=1))).open("wb") as large:
        large.truncate(2_000_000_000)
    monkeypatch.setattr("shutil.disk_usage", lambda folder: SimpleNamespace(free=5e9))
    only(f"The disk of {settings.BACKUP_DIR} has 5.0 GB left, of 8.0 GB")


def test_a_folder_that_cannot_be_written(well: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    only(f"Nothing can be written into {well}")


def test_a_secret_key_that_others_can_read(well: Path) -> None:
    (well / "secret.key").chmod(0o640)
    only(f"Others on this computer can read the secret key: chmod 600 {well}")


def test_settings_that_others_can_read(well: Path, settings: Any) -> None:
    settings.BASE_DIR = well
    (well / ".env").write_text("SMTP_PASSWORD=x")
    (well / ".env").chmod(0o644)
    only("Others on this computer can read the settings: chmod 600")


def test_a_folder_that_others_can_read(well: Path, settings: Any, monkeypatch: Any) -> None:
    well.chmod(0o755)
    assert said() == [], "pytest's own folder above is closed to others"
    monkeypatch.setattr(place, "_open_to_others", lambda folder: folder == settings.BACKUP_DIR)
    only(f"Others on this computer can read backups: chmod 700 {settings.BACKUP_DIR}")


def test_whether_others_can_read_depends_on_the_folders_above(tmp_path: Path) -> None:
    assert place._open_to_others(Path("/usr"))
    inner = tmp_path / "inner"
    inner.mkdir(mode=0o755)
    tmp_path.chmod(0o700)
    assert not place._open_to_others(inner)


def test_what_root_once_wrote(well: Path, monkeypatch: Any) -> None:
    if os.getuid():
        pytest.skip("only root can give files away")
    os.chown(well / "secret.key", 65534, 65534)
    only(f"{well}/secret.key belongs to another account than {well}")


def test_pages_without_their_files(well: Path, settings: Any) -> None:
    (settings.STATIC_ROOT / "staticfiles.json").unlink()
    only("The files of the pages are not collected")


def test_backups_on_the_same_disk_are_a_note(well: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr(place, "_device", lambda path: 1)
    only("note: The backups in ")


def test_a_database_that_cannot_be_reached(well: Path, monkeypatch: Any) -> None:
    def gone() -> str:
        raise OperationalError("unable to open database file")

    monkeypatch.setattr(running, "_damage", gone)
    only("The database cannot be used: unable to open database file. See DATABASE_URL")


def test_a_damaged_database(well: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr(running, "_damage", lambda: "row 3 missing from index")
    only("The database is damaged (row 3 missing from index): keep a copy")


def test_damage_is_looked_for(db: None) -> None:
    assert running._damage() == ""


def test_events_that_could_be_altered(well: Path) -> None:
    disarm(connection)
    only("The database would let what was recorded be altered: run manage.py migrate")


def test_migrations_that_are_not_applied(well: Path) -> None:
    [leaf] = MigrationLoader(connection).graph.leaf_nodes("jobs")
    MigrationRecorder(connection).record_unapplied(*leaf)
    only("The database is not of this version (1 migrations): run manage.py migrate")


def test_a_database_of_a_newer_version(well: Path) -> None:
    MigrationRecorder.Migration.objects.create(app="jobs", name="9999_later")
    only("The database is of a newer version, which knows jobs.9999_later")


def test_nobody_leads(well: Path) -> None:
    Account.objects.update(is_active=False)
    only("Nobody can sign in as the lead")


def test_the_clock_of_utc_is_a_note(well: Path) -> None:
    Studio.objects.update(time_zone="UTC")
    only("note: The studio is on the clock of UTC")


def test_the_worker_does_not_run(well: Path) -> None:
    only("The dates are 2 hours old: manage.py worker does not run", at=NOW + timedelta(hours=2))
    PlanState.objects.update(planned_at=NOW - timedelta(minutes=74))
    assert said() == []
    PlanState.objects.update(planned_at=NOW - timedelta(days=4))
    only("The dates are 4 days old")
    PlanState.objects.update(planned_at=None)
    only("No dates were ever made")


def test_papers_that_nobody_makes(well: Path) -> None:
    make_bundle.enqueue(1)
    waiting = DBTaskResult.objects.all()
    waiting.update(enqueued_at=NOW - timedelta(minutes=14))
    assert said() == []
    waiting.update(enqueued_at=NOW - timedelta(minutes=16))
    only("Tasks that nobody takes: 1. manage.py worker")
    waiting.update(status="RUNNING")
    assert said() == []


def test_something_was_written_down_later_than_now(well: Path) -> None:
    Event.objects.create(at=NOW + timedelta(minutes=1), verb="counted", subject="job", subject_id=1)
    assert said() == []
    Event.objects.create(at=NOW + timedelta(days=1), verb="counted", subject="job", subject_id=1)
    only("The clock was set back, or was wrong before: it is 2026-03-02")


def test_a_file_was_written_later_than_now(well: Path) -> None:
    later = (NOW + timedelta(hours=1)).timestamp()
    os.utime(well / "secret.key", (later, later))
    only("The clock is behind: it is ")


def test_the_clock_of_the_other_computer(well: Path, monkeypatch: Any) -> None:
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has no computer of its own")
    real = running.timezone.now
    monkeypatch.setattr("django.utils.timezone.now", lambda: real() + timedelta(minutes=3))
    only("The clock of the database's computer differs")


def test_no_backup_and_an_old_one(well: Path, settings: Any) -> None:
    [path] = settings.BACKUP_DIR.iterdir()
    path.rename(path.with_name(name_at(NOW - timedelta(days=5))))
    only(f"The last backup in {settings.BACKUP_DIR} is 5 days old")
    next(settings.BACKUP_DIR.iterdir()).unlink()
    only(f"There is no backup in {settings.BACKUP_DIR}")


@pytest.mark.parametrize(
    ("state", "next_try", "sentence"),
    [
        (MailState.FAILED, None, "Mail that could not be sent: 1."),
        (MailState.UNKNOWN, None, "Mail of which nobody knows whether it went: 1."),
        (MailState.WAITING, timedelta(hours=1), "Mail that waits and is not tried: 1."),
    ],
)
def test_mail(well: Path, state: MailState, next_try: timedelta | None, sentence: str) -> None:
    Mail.objects.create(
        job=cast.make_job(),
        kind=MailKind.READY,
        to="office@two-rivers.example",
        subject="Ready",
        body="It is ready.",
        state=state,
        made_at=NOW,
        next_try_at=next_try and NOW - next_try,
        message_id="<1@studio.example>",
        sending_since=NOW,
    )
    only(sentence)
