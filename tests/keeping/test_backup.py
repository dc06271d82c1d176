"""A backup holds every row and every file of one moment, and a half one is none."""

import fcntl
import json
import stat
import threading
import zipfile
from io import StringIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from jobs.actions import Refused
from jobs.management.keeping import backup as backup_module
from jobs.management.keeping.archive import Writer, opened
from jobs.management.keeping.backup import make_backup
from jobs.management.keeping.restore import check, restore
from jobs.management.keeping.rotation import backups_in
from jobs.models import Customer, Event, Job
from tests.cast import at
from tests.keeping.conftest import move_to
from tests.places import all_rows, empty_place


def run(*args: Any) -> str:
    out = StringIO()
    call_command("backup", *args, stdout=out)
    return out.getvalue()


def all_files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_restored_is_every_row_of_every_table_and_every_file(
    studio: Path, tmp_path: Path, settings: Any
) -> None:
    path, manifest = make_backup(tmp_path / "kept", connection, at=at(2))
    before = all_rows(connection)
    assert len(before["jobs_operation"]) == 3
    assert manifest.rows == {table: len(rows) for table, rows in before.items()}
    new = move_to(tmp_path / "new", settings, "made on first run")
    with empty_place(tmp_path) as place:
        restore(path, place)
        assert all_rows(place) == before
        # The next row gets a number of its own.
        with place.cursor() as cursor:
            cursor.execute("INSERT INTO django_content_type (app_label, model) VALUES ('jobs', 'later')")
    assert all_files(new / "files") == all_files(studio / "files")
    assert len(all_files(new / "files")) == 2
    assert all_files(new / "mail") == all_files(studio / "mail")
    assert (new / "secret.key").read_text() == (studio / "secret.key").read_text()
    kept = [new / "secret.key", new / "files" / "quotes" / "0412-1.pdf", new / "mail" / "1.eml"]
    assert {stat.S_IMODE(file.stat().st_mode) for file in kept} == {0o600}


def test_the_file_is_for_its_owner_alone_and_says_what_it_holds(studio: Path) -> None:
    said = run("--keep-all")
    [path] = backups_in(studio / "backups").values()
    assert said.startswith(f"{path}: ")
    assert " 4 files" in said
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
    with zipfile.ZipFile(path) as found:
        manifest = json.loads(found.read("manifest.json"))
        assert found.testzip() is None
    assert manifest["product"] == "glass-studio-floor"
    assert manifest["version"] == backup_module.version()
    assert manifest["studio"] == "Lakeside Glass Works"
    assert manifest["engine"] == connection.vendor
    assert "jobs.0001_initial" in manifest["migrations"]
    assert manifest["members"]["mail/1.eml"]["bytes"] == 35


def test_a_key_from_the_environment_is_not_in_it(studio: Path, settings: Any) -> None:
    settings.SECRET_KEY = "given"
    _, manifest = make_backup(studio / "backups", connection, at=at(2))
    assert "secret.key" not in manifest.members


def test_made_while_others_write_it_is_of_one_moment(studio: Path, tmp_path: Path) -> None:
    """A writer adds a customer and an event in one transaction, over and over: each backup holds as many of both."""
    stop, wrote = threading.Event(), threading.Event()
    failed: list[Exception] = []

    def write() -> None:
        try:
            while not stop.is_set():
                with transaction.atomic():
                    Customer.objects.create(name=str(uuid4()))
                    Event.objects.create(at=at(2), verb="counted", subject="customer", subject_id=1)
                wrote.set()
        except Exception as error:
            failed.append(error)
        finally:
            connection.close()

    writer = threading.Thread(target=write)
    writer.start()
    counts = []
    try:
        for minute in range(3):
            wrote.clear()
            assert wrote.wait(30), failed
            path, manifest = make_backup(tmp_path / "kept", connection, at=at(2, f"10:0{minute}"))
            counts.append((manifest.rows["jobs_customer"] - 1, manifest.rows["jobs_event"]))
    finally:
        stop.set()
        writer.join()
    assert not failed
    assert all(customers == events > 0 for customers, events in counts)
    assert counts[0] < counts[1] < counts[2]
    with empty_place(tmp_path) as place, pytest.MonkeyPatch.context() as patch:
        patch.setattr("jobs.management.keeping.files.stores", dict)
        patch.setattr("jobs.management.keeping.files.key_file", lambda: None)
        restore(path, place)
        assert len(all_rows(place)["jobs_event"]) == counts[-1][1]


def test_what_fails_half_way_leaves_no_backup(studio: Path, monkeypatch: Any) -> None:
    def full(*args: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Writer, "finish", full)
    with pytest.raises(CommandError, match="could not be written: No space left"):
        run()
    assert [path.name for path in (studio / "backups").iterdir()] == [".lock"]


def test_what_a_killed_backup_left_is_no_backup_and_goes_with_the_next(studio: Path) -> None:
    folder = studio / "backups"
    folder.mkdir()
    half = folder / ".studio-20260301T010000Z.backup.unfinished"
    half.write_bytes(b"PK half")
    (folder / "tmp1.unfinished").mkdir()
    assert backups_in(folder) == {}
    run()
    assert sorted(path.name for path in folder.iterdir() if path not in backups_in(folder).values()) == [
        ".lock"
    ]


def test_one_backup_at_a_time_in_a_folder(studio: Path) -> None:
    folder = studio / "backups"
    folder.mkdir()
    with (folder / ".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        with pytest.raises(CommandError, match="Another backup is being made"):
            run()
    assert "1 are kept" in run()


def test_two_in_one_second_do_not_write_over_each_other(studio: Path) -> None:
    path, _ = make_backup(studio / "backups", connection, at=at(2))
    before = path.read_bytes()
    with pytest.raises(Refused, match="is there already"):
        make_backup(studio / "backups", connection, at=at(2))
    assert path.read_bytes() == before


def test_old_ones_are_removed_as_asked(studio: Path) -> None:
    folder = studio / "backups"
    folder.mkdir()
    for month in range(1, 10):
        (folder / f"studio-2025{month:02}15T010000Z.backup").write_bytes(b"")
    assert "7 older ones are removed, 3 are kept" in run("--daily", "1", "--weekly", "1", "--monthly", "3")
    with pytest.raises(CommandError, match="Less than no backup"):
        run("--daily", "-1")


def test_a_database_without_a_studio_is_not_backed_up(
    place: Path, tmp_path: Path, transactional_db: None
) -> None:
    with empty_place(tmp_path) as empty, pytest.raises(Refused, match="no studio in this database"):
        make_backup(tmp_path / "kept", empty, at=at(2))


def test_a_file_taken_away_meanwhile_is_no_trouble(studio: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr(
        "jobs.management.keeping.files.names", lambda store: iter(["quotes/0412-1.pdf", "gone.pdf"])
    )
    path, manifest = make_backup(studio / "backups", connection, at=at(2))
    assert "files/quotes/0412-1.pdf" in manifest.members
    assert "files/gone.pdf" not in manifest.members
    assert check(path) == manifest
    with opened(path) as found:
        assert found.names("files/") == ["files/quotes/0412-1.pdf"]
    assert Job.objects.exists()
