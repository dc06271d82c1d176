"""Everything as CSV: every table is there, what is read back is what the rows hold, and no secret is in it."""

import json
import threading
import zipfile
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import connection, models
from django.test import Client
from django.urls import reverse

from jobs.actions import Actor, people
from jobs.actions.calendars import make_calendar_link
from jobs.actions.customer_links import Shared, make_link
from jobs.exports import archive, write
from jobs.exports.cells import guarded, unguarded
from jobs.exports.tables import LEFT_OUT, name_of, tables
from jobs.models import Account, CalendarLink, Customer, Event, Job, Mail, Person, TimeEntry
from tests import cast
from tests.cast import ZONE, at
from tests.exports.reading import exported, read

# A formula, and what a writer of CSV may stumble over.
NASTY = [
    "=1+1",
    "'=1+1",
    " -2",
    "+43 1 234",
    "@home",
    "＝1",
    'say "so", then\r\ngo',
    "a;b\tc",
    "",
    "'",
    "Jürgen ✓",
]


@pytest.fixture
def full(lead: Account) -> Job:
    """Rows of many tables, with texts that are hard to write."""
    job = cast.make_job("0412", notes=NASTY[0])
    panel = cast.make_panel(job, name=NASTY[6])
    cast.make_accepted(panel, lead)
    cast.make_gate(job, "deposit", expected=date(2026, 3, 9))
    for text in NASTY:
        Customer.objects.create(name=f"{text}|", notes=text)
        Customer.objects.create(name=f"{text}||" if text.endswith("|") else f"{text}!", contact=text[:80])
    operation = cast.operation_of(panel, "Cutting")
    # Two hours of which one lies before, one after the clocks change (29 March 2026).
    for day in (28, 30):
        TimeEntry.objects.create(
            person=cast.person("Mara"),
            operation=operation,
            started_at=at(day, "08:00"),
            stopped_at=at(day, "09:00"),
            minutes=60,
            client_id=uuid4(),
            note="-5 pieces",
        )
    job.promises.create(
        day=date(2026, 5, 2), given_at=at(2), given_by=lead, told="Anna", chance=Decimal("0.805")
    )
    return job


def by(account: Account) -> Actor:
    return Actor(account=account)


def test_every_model_is_exported_or_named_as_left_out(full: Job) -> None:
    all_models = {name_of(m) for m in apps.get_app_config("jobs").get_models(include_auto_created=True)}
    names = {name.removesuffix(".csv") for name in exported().namelist()}
    assert len(all_models) > 50
    assert set(LEFT_OUT) <= all_models
    assert names >= all_models - set(LEFT_OUT)
    assert not names & set(LEFT_OUT)
    told = read(exported(), "left_out")
    assert set(LEFT_OUT) <= {line["table"] for line in told}
    assert all(line["why"] for line in told)


def as_read(field: Any, cell: str) -> Any:
    """The value that a cell stands for, by the kind of the field alone."""
    if cell == "" and field.null:
        return None
    match field:
        case models.DateTimeField():
            return datetime.fromisoformat(cell)
        case models.DateField():
            return date.fromisoformat(cell)
        case models.TimeField():
            return cell
        case models.BooleanField():
            return {"true": True, "false": False}[cell]
        case models.DecimalField():
            return Decimal(cell)
        case models.JSONField():
            return json.loads(unguarded(cell))
        case models.FloatField():
            return float(cell)
        case models.IntegerField() | models.ForeignKey() | models.AutoField():
            return int(cell)
    return unguarded(cell)


def test_what_is_read_back_is_what_the_rows_hold(full: Job) -> None:
    zipped, compared = exported(), 0
    for table in tables(with_pay=True):
        lines = read(zipped, table.name)
        rows = list(table.model._base_manager.order_by("pk"))
        assert len(lines) == len(rows), table.name
        for line, row in zip(lines, rows, strict=True):
            assert list(line) == [field.attname for field in table.fields]
            for field in table.fields:
                value = getattr(row, field.attname)
                if (
                    isinstance(field, models.FileField | models.UUIDField | models.TimeField)
                    and value is not None
                ):
                    value = str(value)
                assert as_read(field, line[field.attname]) == value, (table.name, field.name)
                compared += 1
    assert compared > 700


@pytest.mark.parametrize("text", NASTY)
def test_a_text_comes_back_as_it_was_and_no_spreadsheet_reckons_with_it(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert not guarded(text).lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n", "＝"))


def test_numbers_and_times_are_written_plainly(full: Job) -> None:
    Person.objects.filter(name__startswith="Mara").update(hourly_cost=Decimal("31.50"))
    zipped = exported()
    first, second = read(zipped, "timeentry")
    assert first["started_at"] == "2026-03-28T08:00:00+01:00"
    assert second["started_at"] == "2026-03-30T08:00:00+02:00"
    assert first["minutes"] == "60"
    assert first["note"] == "'-5 pieces"
    assert read(zipped, "promise")[0]["day"] == "2026-05-02"
    assert "31.50" in {line["hourly_cost"] for line in read(zipped, "person")}
    raw = zipped.read("customer.csv")
    assert b"\r\n" in raw
    assert not raw.startswith(b"\xef\xbb\xbf")
    assert "Jürgen ✓".encode() in raw


def test_no_secret_is_in_it(full: Job, lead: Account) -> None:
    link = make_link(full, Shared(date(2026, 9, 1)), by=by(lead), at=at(2))
    make_calendar_link(None, by=by(lead), at=at(2))
    calendar = CalendarLink.objects.get()
    person = people.set_pin(cast.person("Mara"), "4711", by=by(lead), at=at(2))
    Mail.objects.create(
        job=full, kind="ready", subject="Ready", body=f"See https://x.example/c/{link.token}/.", made_at=at(2)
    )
    secrets = [
        link.token, link.seed, link.digest, calendar.token, calendar.seed, calendar.digest, person.pin, lead.password
    ]  # fmt: skip
    assert all(len(secret) > 20 for secret in secrets)
    zipped = exported()
    for name in zipped.namelist():
        text = zipped.read(name).decode()
        assert not [secret for secret in secrets if secret in text], name
    assert "/c/(left out)/" in zipped.read("mail.csv").decode()
    fields = {(line["table"], line["field"]) for line in read(zipped, "left_out")}
    assert fields >= {
        ("account", "password"), ("person", "pin"), ("customerlink", "seed"), ("customerlink", "digest"),
        ("calendarlink", "seed"), ("calendarlink", "digest"), ("mailpaper", "content"),
    }  # fmt: skip


def test_a_field_that_sounds_secret_is_left_out_though_nobody_named_it() -> None:
    words = {"password", "pin", "seed", "digest", "secret", "token", "key"}
    left = {
        f"{t.name}.{f.name}"
        for t in tables(with_pay=True)
        for f in t.fields
        if words & set(f.name.split("_"))
    }
    assert left == {"drawingapproval.digest", "studio.asks_pin", "planstate.seed"}


def test_pay_is_left_out_where_it_is_not_asked_for(full: Job, lead: Account) -> None:
    people.change_person(cast.person("Mara"), {"hourly_cost": Decimal("47.11")}, by=by(lead), at=at(2))
    assert b"47.11" in exported(with_pay=True).read("event.csv")
    zipped = exported(with_pay=False)
    assert not [name for name in zipped.namelist() if b"47.11" in zipped.read(name)]
    assert "hourly_cost" not in read(zipped, "person")[0]
    assert {"table": "person", "field": "hourly_cost", "why": "what somebody is paid"} in read(
        zipped, "left_out"
    )


def test_the_dictionary_says_of_each_field_what_it_is(full: Job) -> None:
    zipped = exported()
    lines = {(line["table"], line["field"]): line for line in read(zipped, "dictionary")}
    heads = {(t.name, f.attname) for t in tables(with_pay=True) for f in t.fields}
    assert set(lines) == heads
    assert all(line["kind"] and line["meaning"] for line in lines.values())
    assert lines["panel", "width_mm"]["unit"] == "mm"
    assert lines["timeentry", "minutes"]["unit"] == "minutes"
    assert lines["person", "hourly_cost"]["unit"] == "money per hour"
    assert lines["timeentry", "started_at"]["unit"] == "ISO 8601 with offset"
    assert lines["timeentry", "person_id"]["refers_to"] == "person.id"
    assert "quoted = quoted" in lines["job", "stage"]["allowed"]
    assert "EUR" in zipped.read("README.txt").decode()
    told = {line["table"]: line for line in read(zipped, "tables")}
    assert told["timeentry"]["rows"] == "2"
    assert told["job"]["meaning"] == "A commission."
    money = [line for line in lines.values() if "price" in line["field"] or "cost" in line["field"]]
    assert money
    assert all("money" in line["unit"] for line in money if line["kind"] == "decimal")


def test_few_rows_are_in_memory_at_once(full: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []
    usual = models.QuerySet.iterator

    def counted(rows: Any, chunk_size: int | None = None) -> Any:
        asked.append(chunk_size or 0)
        return usual(rows, chunk_size)

    monkeypatch.setattr(models.QuerySet, "iterator", counted)
    assert len(exported().namelist()) > 50
    assert len(asked) > 50
    assert max(asked) <= 2000


def test_all_of_it_is_of_one_moment_and_nobody_waits(
    transactional_db: None, shop: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A customer who comes while the first tables are being written is in none of them."""
    usual, wrote = archive._rows, []

    def other() -> None:
        Customer.objects.create(name="Came meanwhile")
        wrote.append(True)
        connection.close()

    def slowly(into: Any, table: Any, *rest: Any) -> int:
        if table.name == "breakage":
            thread = threading.Thread(target=other)
            thread.start()
            thread.join(timeout=15)
        return usual(into, table, *rest)

    monkeypatch.setattr(archive, "_rows", slowly)
    assert "Came meanwhile" not in exported().read("customer.csv").decode()
    assert wrote == [True]
    monkeypatch.undo()
    assert "Came meanwhile" in exported().read("customer.csv").decode()


# The page and the command


def test_the_lead_takes_everything_along(full: Job, lead: Account, lead_client: Client) -> None:
    assert "Make the zip" in lead_client.get(reverse("set-up-export")).content.decode()
    answer = lead_client.post(reverse("set-up-export"), {"with_pay": "on"})
    assert answer["Content-Type"] == "application/zip"
    assert "attachment" in answer["Content-Disposition"]
    assert "no-store" in answer["Cache-Control"]
    data = BytesIO(b"".join(answer))
    assert "hourly_cost" in read(zipfile.ZipFile(data), "person")[0]
    event = Event.objects.get(verb="exported all rows of")
    assert event.account == lead
    assert event.after["with pay"] is True
    assert event.after["rows"] > 50


def test_pay_has_to_be_asked_for(full: Job, lead_client: Client) -> None:
    data = BytesIO(b"".join(lead_client.post(reverse("set-up-export"))))
    assert "hourly_cost" not in read(zipfile.ZipFile(data), "person")[0]
    assert Event.objects.get(verb="exported all rows of").after["with pay"] is False


def test_nobody_else_takes_it(full: Job, office_client: Client, tablet_client: Client) -> None:
    for client in (office_client, tablet_client):
        assert client.post(reverse("set-up-export")).status_code == 403
    assert not Event.objects.filter(verb="exported all rows of").exists()


def test_the_command_writes_a_new_file_for_nobody_elses_eyes(full: Job, tmp_path: Path) -> None:
    path = tmp_path / "all.zip"
    call_command("export_csv", str(path), "--without-pay", stdout=StringIO())
    assert path.stat().st_mode & 0o777 == 0o600
    with zipfile.ZipFile(path) as zipped:
        assert "hourly_cost" not in read(zipped, "person")[0]
    assert Event.objects.get(verb="exported all rows of").account is None
    with pytest.raises(CommandError, match="there already"):
        call_command("export_csv", str(path))
    with pytest.raises(CommandError, match="could not be written"):
        call_command("export_csv", str(tmp_path / "nowhere" / "all.zip"))
    assert [file.name for file in tmp_path.iterdir()] == ["all.zip"]


def test_a_zone_is_written_as_the_studio_keeps_it(full: Job) -> None:
    into = BytesIO()
    write(into, at=at(3), with_pay=False)
    entered = read(zipfile.ZipFile(into), "job")[0]["entered_at"]
    assert datetime.fromisoformat(entered) == at(2).astimezone(ZONE)
    assert entered.endswith("+01:00")
