"""Every row goes over as it was, from SQLite to PostgreSQL and back; on PostgreSQL's tests between the two for real."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections

from jobs.actions import Refused
from jobs.management.keeping import moving
from jobs.management.keeping.moving import move, tables
from jobs.models import (
    Account,
    Customer,
    Job,
    Mail,
    MailKind,
    MailPaper,
    Operation,
    Projection,
    Role,
    SentQuote,
    Tap,
    TimeEntry,
)
from tests import cast
from tests.places import all_rows, empty_place, sqlite_place

MAKE_TABLES = moving._make_tables


@pytest.fixture
def studio(transactional_db: None) -> Account:
    """Values that the engines keep in ways of their own: times, decimals, JSON, bytes, UUIDs, fractions, nothing."""
    cast.make_studio()
    cast.make_shop()
    lead = cast.make_account("lead", Role.LEAD)
    job = cast.make_job(title="Rosette “Überlicht”; 🜁 and 'more'\n\tin two lines %s \\")
    panel = cast.make_panel(job)
    cast.make_gate(job, "glass")
    at = cast.at(2, "09:13").replace(microsecond=123456)
    entry = {"operation": panel.operations.first(), "person": cast.person("Mara"), "started_at": at}
    TimeEntry.objects.create(**entry, stopped_at=cast.at(2, "10:13"), minutes=60)
    chance = 0.1 + 0.2
    Projection.objects.create(job=job, p50=at, p80=at, p95=at, chance=chance, confident_day=at.date())
    mail = Mail.objects.create(
        job=job, kind=MailKind.READY, subject="é", body="", made_at=at, papers=[1, {"a": None}]
    )
    MailPaper.objects.create(mail=mail, name="a.pdf", content=bytes(range(256)))
    Tap.objects.create(client_id=UUID(int=7), verb="start", at=at)
    last = Customer.objects.create(name="Somebody who left")
    assert last.pk > 1
    last.delete()
    return lead


@pytest.fixture
def quick(monkeypatch: Any, tmp_path_factory: Any) -> None:
    """Tables of SQLite are copied from a file that was migrated once."""
    kept = Path(tmp_path_factory.getbasetemp()) / "migrated.sqlite3"
    if not kept.exists():
        with sqlite_place(kept.parent) as place, as_alias(place) as alias:
            MAKE_TABLES(connections[alias])
            with sqlite3.connect(kept) as file:
                place.connection.backup(file)

    def make(target: Any) -> None:
        if target.vendor == "sqlite":
            target.ensure_connection()
            with sqlite3.connect(kept) as file:
                file.backup(target.connection)
        else:
            MAKE_TABLES(target)

    monkeypatch.setattr(moving, "_make_tables", make)


@contextmanager
def as_alias(place: Any, alias: str = "aside") -> Iterator[str]:
    """Models and migrations reach a database by its name."""
    place.alias = alias
    connections[alias] = place
    try:
        yield alias
    finally:
        del connections[alias]


def of_models(alias: str) -> dict[str, list[tuple[Any, ...]]]:
    """Every row as the models read it."""
    found = {}
    for model in tables(alias):
        fields = [field.attname for field in model._meta.local_concrete_fields]
        rows = model._base_manager.using(alias).order_by("pk").values_list(*fields)
        found[model._meta.db_table] = [
            tuple(bytes(value) if isinstance(value, memoryview) else value for value in row) for row in rows
        ]
    return found


def next_customer(place: Any) -> int:
    with as_alias(place) as alias:
        return Customer.objects.using(alias).create(name="The next one").pk


def test_there_and_back_every_row_is_what_it_was(studio: Account, tmp_path: Path, quick: None) -> None:
    before, written = of_models("default"), all_rows(connection)
    assert len(before["jobs_operation_after"]) == 2
    assert len(before["django_content_type"]) > 60
    # One after the last that is there has left.
    last = max(row[0] for row in before["jobs_customer"])
    with sqlite_place(tmp_path) as there, empty_place(tmp_path) as back:
        with as_alias(there) as alias:
            counts = move("default", alias)
            assert of_models(alias) == before
        assert counts == {table: len(rows) for table, rows in written.items()}
        with as_alias(there) as alias, as_alias(back, "back") as other:
            move(alias, other)
        assert all_rows(back) == written
        # The number of who left is given to nobody else, there or back.
        assert (
            next_customer(there)
            == next_customer(back)
            == Customer.objects.create(name="The next one").pk
            == last + 2
        )
    assert of_models("default").keys() == before.keys()


def test_a_place_that_is_not_empty_is_left_alone(studio: Account, tmp_path: Path) -> None:
    with sqlite_place(tmp_path) as there, as_alias(there) as alias:
        with there.cursor() as cursor:
            cursor.execute("CREATE TABLE notes (text varchar(20))")
            cursor.execute("INSERT INTO notes VALUES ('mine')")
        with pytest.raises(Refused, match="There are tables already"):
            move("default", alias)
        assert all_rows(there) == {"notes": [("mine",)]}


def test_a_database_of_another_version_is_refused(studio: Account, tmp_path: Path) -> None:
    with sqlite_place(tmp_path) as there, as_alias(there) as alias, connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO django_migrations (app, name, applied) VALUES ('jobs', '9999_later', '2026-01-01')"
        )
        with pytest.raises(Refused, match="of another version than this program: run "):
            move("default", alias)
        cursor.execute("DELETE FROM django_migrations WHERE name = '9999_later'")
        assert all_rows(there) == {}


def test_a_database_without_a_studio_is_refused(transactional_db: None, tmp_path: Path) -> None:
    with sqlite_place(tmp_path) as there, empty_place(tmp_path) as nothing:
        aliases = as_alias(nothing), as_alias(there, "there")
        with (
            aliases[0] as source,
            aliases[1] as target,
            pytest.raises(Refused, match="no studio in the database"),
        ):
            move(source, target)
        assert all_rows(there) == {}


def test_a_table_that_nobody_knows_is_refused(studio: Account, tmp_path: Path) -> None:
    with sqlite_place(tmp_path) as there, as_alias(there) as alias, connection.cursor() as cursor:
        cursor.execute("CREATE TABLE notes (text varchar(20))")
        try:
            with pytest.raises(Refused, match="Nobody knows what notes holds"):
                move("default", alias)
        finally:
            cursor.execute("DROP TABLE notes")
        assert all_rows(there) == {}


def test_a_row_that_comes_out_otherwise_is_found_and_all_taken_back(
    studio: Account, tmp_path: Path, monkeypatch: Any, quick: None
) -> None:
    insert = moving._insert

    def careless(model: Any, source: str, target: str) -> None:
        insert(model, source, target)
        if model is Operation:
            Operation.objects.using(target).filter(place=1).update(estimate=1)

    monkeypatch.setattr(moving, "_insert", careless)
    pk = Operation.objects.get(place=1).pk
    with sqlite_place(tmp_path) as there, as_alias(there) as alias:
        with pytest.raises(
            Refused, match=f"A row of jobs_operation is not what it was: {pk}. Nothing was moved"
        ):
            move("default", alias)
        assert all_rows(there) == {}


def test_a_row_that_is_missing_or_too_many_is_found(
    studio: Account, tmp_path: Path, monkeypatch: Any, quick: None
) -> None:
    insert = moving._insert

    def careless(model: Any, source: str, target: str) -> None:
        if model is not TimeEntry:
            insert(model, source, target)

    monkeypatch.setattr(moving, "_insert", careless)
    with sqlite_place(tmp_path) as there, as_alias(there) as alias:
        with pytest.raises(Refused, match="A row of jobs_timeentry is not what it was"):
            move("default", alias)
        assert all_rows(there) == {}


def test_a_row_that_the_other_cannot_keep_is_named_and_all_taken_back(
    studio: Account, tmp_path: Path, quick: None
) -> None:
    """SQLite keeps any length of text, and references to nothing where it was told not to look."""
    with sqlite_place(tmp_path) as between, empty_place(tmp_path) as there:
        with as_alias(between) as source:
            move("default", source)
            if connection.vendor == "postgresql":
                Job.objects.using(source).update(number="0" * 400)
            else:
                with between.cursor() as cursor:
                    cursor.execute("PRAGMA foreign_keys = OFF")
                    cursor.execute("UPDATE jobs_job SET customer_id = 777")
        aliases = as_alias(between), as_alias(there, "there")
        said = r"A row of jobs_job cannot be kept there|could not be moved: .*jobs_job"
        with aliases[0] as source, aliases[1] as target, pytest.raises(Refused, match=said):
            move(source, target)
        assert all_rows(there) == {}


def test_the_command(studio: Account, tmp_path: Path, monkeypatch: Any, quick: None) -> None:
    with sqlite_place(tmp_path) as there:
        with as_alias(there) as alias:
            move("default", alias)
        source = f"sqlite:///{there.settings_dict['NAME']}"
        monkeypatch.setenv("NEW_DATABASE", f"sqlite:///{tmp_path}/new.sqlite3")
        out = StringIO()
        call_command("move_database", source, "NEW_DATABASE", stdout=out)
        assert out.getvalue().startswith("Moved ")
        assert not hasattr(connections._connections, "move-from")
        with sqlite3.connect(tmp_path / "new.sqlite3") as new:
            assert new.execute("SELECT title FROM jobs_job").fetchall() == [(Job.objects.get().title,)]
        with pytest.raises(CommandError, match="There are tables already"):
            call_command("move_database", source, "NEW_DATABASE")
        with pytest.raises(CommandError, match="are one database"):
            call_command("move_database", source, source)


@pytest.mark.parametrize("address", ["NOWHERE", "mysql://a@b/c", "studio.sqlite3", "http://studio.example"])
def test_what_is_no_address_is_refused(db: None, tmp_path: Path, address: str) -> None:
    with pytest.raises(CommandError, match="FROM and TO are addresses of databases"):
        call_command("move_database", f"sqlite:///{tmp_path}/a.sqlite3", address)
    assert not list(tmp_path.iterdir())
    assert SentQuote.objects.count() == 0
