"""What is damaged, foreign or newer is refused with a sentence, and so is a place that is not empty."""

import json
import random
import shutil
import sqlite3
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing
from hashlib import sha256
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from jobs.actions import Refused
from jobs.management.keeping import restore as restore_module
from jobs.management.keeping.backup import make_backup
from jobs.management.keeping.restore import check, restore
from tests.cast import at
from tests.keeping.conftest import move_to
from tests.places import all_rows, empty_place, sqlite_place


@pytest.fixture
def backup(studio: Path, tmp_path: Path, settings: Any) -> Path:
    """A backup of the studio; the installation is at a new place afterwards, with its own key and nothing else."""
    path, _ = make_backup(tmp_path / "kept", connection, at=at(2))
    move_to(tmp_path / "new", settings, "made on first run")
    return path


@pytest.fixture
def empty(backup: Path, tmp_path: Path) -> Iterator[Any]:
    with empty_place(tmp_path) as found:
        yield found


def nothing_changed(place: Any, tmp_path: Path) -> bool:
    new = tmp_path / "new"
    files = [path.name for path in new.rglob("*") if path.is_file()]
    return (
        all_rows(place) == {}
        and files == ["secret.key"]
        and (new / "secret.key").read_text() == "made on first run"
    )


def rewritten(
    path: Path,
    manifest: Callable[[dict[str, Any]], Any] = lambda manifest: manifest,
    members: Callable[[dict[str, bytes]], Any] = lambda members: None,
) -> Path:
    """The backup made anew by somebody who keeps the manifest's own checksum right."""
    with zipfile.ZipFile(path) as found:
        contents = {name: found.read(name) for name in found.namelist() if name != "manifest.json"}
        listed = json.loads(found.read("manifest.json"))
    members(contents)
    text = json.dumps(manifest(listed) or listed).encode()
    other = path.with_name("rewritten.backup")
    with zipfile.ZipFile(other, "w") as written:
        for name, content in {**contents, "manifest.json": text}.items():
            written.writestr(name, content)
        written.comment = sha256(text).hexdigest().encode()
    return other


def changed(**values: Any) -> Callable[[dict[str, Any]], dict[str, Any]]:
    return lambda manifest: manifest | values


def test_the_command_restores_into_a_new_installation(backup: Path, empty: Any, monkeypatch: Any) -> None:
    monkeypatch.setattr("jobs.management.commands.restore.connection", empty)
    out = StringIO()
    call_command("restore", backup, "--check", stdout=out)
    assert out.getvalue().startswith("Whole: Lakeside Glass Works, as of 2026-03-02 08:00 by version ")
    assert all_rows(empty) == {}
    call_command("restore", backup, stdout=out)
    assert "Restored: Lakeside Glass Works" in out.getvalue()
    assert all_rows(empty) == all_rows(connection)
    with pytest.raises(CommandError, match="There is a database here already"):
        call_command("restore", backup, stdout=out)


def test_a_byte_changed_anywhere_is_found(backup: Path, empty: Any, tmp_path: Path) -> None:
    """Forty places, evenly over the file, and its ends: refused or, where the byte meant nothing, still whole."""
    whole = backup.read_bytes()
    chance = random.Random(7)
    places = [0, 3, len(whole) - 1, *(len(whole) * part // 40 for part in range(1, 40))]
    found = 0
    for place in places:
        damaged = bytearray(whole)
        damaged[place] ^= 1 << chance.randrange(8)
        path = tmp_path / "damaged.backup"
        path.write_bytes(damaged)
        try:
            check(path)
        except Refused as refused:
            assert refused.sentence.endswith(".")
            found += 1
            with pytest.raises(Refused):
                restore(path, empty)
            assert nothing_changed(empty, tmp_path)
    # What a zip says of a member twice is read once: all that is kept is checked.
    assert found >= len(places) - 3


def test_a_file_cut_short_is_refused(backup: Path, empty: Any, tmp_path: Path) -> None:
    whole = backup.read_bytes()
    for length in (0, 1, 100, len(whole) // 2, len(whole) - 1):
        backup.write_bytes(whole[:length])
        with pytest.raises(Refused, match=r"is no backup, or it is damaged|was changed"):
            restore(backup, empty)
    assert nothing_changed(empty, tmp_path)


@pytest.mark.parametrize(
    ("manifest", "sentence"),
    [
        (changed(product="something else"), "a backup of another program"),
        (changed(format=2), "made by a newer version of the program"),
        (changed(further="x"), "no backup of this program"),
        (lambda manifest: [1], "no backup of this program"),
        (lambda manifest: {"product": "glass-studio-floor"}, "no backup of this program"),
        (
            lambda manifest: (
                manifest | {"migrations": [*manifest["migrations"], "jobs.9999_later"], "version": "9.1"}
            ),
            r"made by a newer version \(9.1\), which knows jobs.9999_later: install that version first",
        ),
        (
            lambda manifest: manifest | {"rows": manifest["rows"] | {"jobs_job": 7}},
            "other rows .*, in jobs_job",
        ),
        (
            lambda manifest: manifest["members"].pop("mail/1.eml") and None,
            "does not hold the files that it lists",
        ),
        (
            lambda manifest: manifest["members"]["mail/1.eml"].update(sha256="0" * 64),
            "damaged: mail/1.eml is not what was kept",
        ),
    ],
)
def test_what_is_foreign_newer_or_at_odds_with_itself_is_refused(
    backup: Path, empty: Any, tmp_path: Path, manifest: Any, sentence: str
) -> None:
    with pytest.raises(Refused, match=sentence):
        restore(rewritten(backup, manifest), empty)
    assert nothing_changed(empty, tmp_path)


def test_a_manifest_without_its_checksum_is_refused(backup: Path, empty: Any, tmp_path: Path) -> None:
    path = rewritten(backup)
    with zipfile.ZipFile(path, "a") as written:
        written.comment = b""
    with pytest.raises(Refused, match="the list of what it holds was changed"):
        restore(path, empty)
    assert nothing_changed(empty, tmp_path)


@pytest.mark.parametrize("name", ["files/../../out.txt", "/etc/out", "files/a\\..\\b", "files//twice"])
def test_a_name_that_leads_elsewhere_is_refused(backup: Path, empty: Any, tmp_path: Path, name: str) -> None:
    def listed(manifest: dict[str, Any]) -> None:
        manifest["members"][name] = {"bytes": 1, "sha256": sha256(b"x").hexdigest()}

    path = rewritten(backup, listed, lambda members: members.update({name: b"x"}))
    with pytest.raises(Refused, match="a file of the name"):
        restore(path, empty)
    assert nothing_changed(empty, tmp_path)


def test_other_files_are_no_backups(backup: Path, empty: Any, tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("Call the church")
    with pytest.raises(Refused, match="is no backup"):
        restore(text, empty)
    with pytest.raises(Refused, match=r"cannot be read: No such file"):
        restore(tmp_path / "nowhere", empty)
    with zipfile.ZipFile(text, "w") as other:
        other.writestr("a.txt", "a")
    with pytest.raises(Refused, match="no backup of this program"):
        restore(text, empty)
    assert nothing_changed(empty, tmp_path)


def test_a_place_with_rows_or_files_is_left_alone(backup: Path, empty: Any, tmp_path: Path) -> None:
    before = all_rows(connection)
    with pytest.raises(Refused, match="There is a database here already"):
        restore(backup, connection)
    assert all_rows(connection) == before
    kept = tmp_path / "new" / "files" / "photos" / "a.jpg"
    kept.parent.mkdir(parents=True)
    kept.write_bytes(b"a")
    with pytest.raises(Refused, match=r"There are files here already, such as photos/a.jpg"):
        restore(backup, empty)
    assert all_rows(empty) == {}
    assert [path for path in (tmp_path / "new").rglob("*") if path.is_file()] == [
        tmp_path / "new" / "secret.key",
        kept,
    ]


def test_trouble_with_the_database_takes_the_files_back(backup: Path, empty: Any, tmp_path: Path) -> None:
    """The rows come last: a database that does not come out whole leaves no file behind either."""

    def torn(members: dict[str, bytes]) -> None:
        name = next(name for name in members if name.startswith("database"))
        members[name] = members[name][:4000]

    def listed(manifest: dict[str, Any]) -> None:
        name = next(name for name in manifest["members"] if name.startswith("database"))
        with zipfile.ZipFile(backup) as found:
            manifest["members"][name]["sha256"] = sha256(found.read(name)[:4000]).hexdigest()

    with pytest.raises(Refused, match=r"damaged|pg_restore could not do it|no studio"):
        restore(rewritten(backup, listed, torn), empty)
    assert nothing_changed(empty, tmp_path)
    restore(backup, empty)
    assert all_rows(empty) == all_rows(connection)


def test_the_other_kind_of_database_is_refused(backup: Path, empty: Any, tmp_path: Path) -> None:
    other = {"sqlite": "postgresql", "postgresql": "sqlite"}[connection.vendor]
    with pytest.raises(Refused, match=f"a backup of {other}, and DATABASE_URL names {connection.vendor}"):
        restore(rewritten(backup, changed(engine=other)), empty)
    assert nothing_changed(empty, tmp_path)


def test_missing_client_programs_are_named(
    backup: Path, empty: Any, tmp_path: Path, monkeypatch: Any
) -> None:
    if connection.vendor != "postgresql":
        pytest.skip("SQLite needs none")
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(Refused, match="pg_restore is missing"):
        restore(backup, empty)
    assert nothing_changed(empty, tmp_path)


def test_a_key_from_the_environment_stays(backup: Path, empty: Any, tmp_path: Path, settings: Any) -> None:
    settings.SECRET_KEY = "given"
    restore(backup, empty)
    assert (tmp_path / "new" / "secret.key").read_text() == "made on first run"


def test_an_older_backup_is_taken(backup: Path, empty: Any) -> None:
    def older(manifest: dict[str, Any]) -> dict[str, Any]:
        return manifest | {"migrations": manifest["migrations"][:-1]}

    assert restore(rewritten(backup, older), empty).version == restore_module.check(backup).version


def test_another_kind_of_database_is_not_served(tmp_path: Path) -> None:
    with sqlite_place(tmp_path) as found:
        found.vendor = "other"
        with pytest.raises(Refused, match="Backups are made of SQLite and PostgreSQL"):
            restore(tmp_path / "any", found)


def test_what_is_here_is_set_aside_whole(studio: Path, tmp_path: Path, monkeypatch: Any) -> None:
    """To go back a version: the backup takes the place of all that was written since, of which nothing is lost."""
    path, _ = make_backup(tmp_path / "kept", connection, at=at(2))
    with empty_place(tmp_path) as place:
        monkeypatch.setattr("jobs.management.commands.restore.connection", place)
        with pytest.raises(CommandError, match="There are files here already"):
            call_command("restore", path, stdout=StringIO())
        (studio / "files").rename(studio / "before")
        (studio / "mail" / "1.eml").unlink()
        call_command("restore", path, stdout=StringIO())
        with place.cursor() as cursor:
            cursor.execute("UPDATE jobs_job SET title = 'Written since'")
        (studio / "files" / "later.pdf").write_bytes(b"%PDF")
        out = StringIO()
        call_command("restore", path, "--set-aside", stdout=out)
        assert all_rows(place) == all_rows(connection)
        [aside] = studio.glob("set-aside-*")
        assert f"Set aside: {aside}/files" in out.getvalue()
        assert (aside / "files" / "later.pdf").read_bytes() == b"%PDF"
        assert not (studio / "files" / "later.pdf").exists()
        assert (aside / "mail" / "1.eml").exists()
        assert titles_set_aside(place, aside) == [("Written since",)]
        # What is set aside is in no later backup.
        _, later = make_backup(tmp_path / "later", place, at=at(3))
        assert later.rows == {table: len(rows) for table, rows in all_rows(connection).items()}
        with empty_place(tmp_path) as third:
            call_command("restore", path, "--check", stdout=StringIO())
            assert all_rows(third) == {}


def titles_set_aside(place: Any, aside: Path) -> list[tuple[str]]:
    if connection.vendor == "sqlite":
        with closing(sqlite3.connect(next(aside.glob("*.sqlite3")))) as kept:
            return kept.execute("SELECT title FROM jobs_job").fetchall()
    with place.cursor() as cursor:
        cursor.execute(
            f"SELECT title FROM {aside.name.replace('set-aside-', 'set_aside_').replace('-', '_')}.jobs_job"
        )
        return cursor.fetchall()


def test_a_damaged_backup_sets_nothing_aside(
    backup: Path, empty: Any, tmp_path: Path, monkeypatch: Any
) -> None:
    monkeypatch.setattr("jobs.management.commands.restore.connection", empty)
    backup.write_bytes(backup.read_bytes()[:-10])
    with pytest.raises(CommandError):
        call_command("restore", backup, "--set-aside", stdout=StringIO())
    assert nothing_changed(empty, tmp_path)
