"""`manage.py set_up` makes a studio that can start, and leaves alone what is there."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from jobs.models import Account, Event, Role, Route, Station, Studio

VALUES = {
    "STUDIO_NAME": "North Light",
    "STUDIO_TIME_ZONE": "America/Chicago",
    "LEAD_NAME": "nora",
    "LEAD_PASSWORD": "cobalt and amber",
}


def set_up(monkeypatch: pytest.MonkeyPatch, *options: str, **values: str) -> str:
    for name in VALUES:
        monkeypatch.delenv(name, raising=False)
    for name, value in values.items():
        monkeypatch.setenv(name, value)
    out = StringIO()
    call_command("set_up", "--no-input", *options, stdout=out)
    return out.getvalue()


def test_a_studio_can_start(db: None, monkeypatch: pytest.MonkeyPatch, client: Client) -> None:
    said = set_up(monkeypatch, "--trade", **VALUES)
    assert "nora can sign in as the lead." in said
    assert (Studio.current().name, Studio.current().time_zone) == ("North Light", "America/Chicago")
    lead = Account.objects.get()
    assert (lead.role, lead.is_staff, lead.is_superuser) == (Role.LEAD, True, False)
    assert Station.objects.count() > 4
    assert Route.objects.exists()
    typed = {"username": "nora", "password": "cobalt and amber", "next": "/set-up/"}
    assert client.post(reverse("sign-in"), typed)["Location"] == "/set-up/"
    assert client.get("/set-up/").status_code == 200
    assert {event.account for event in Event.objects.all()} == {None}


def test_a_second_time_changes_nothing(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    set_up(monkeypatch, "--trade", **VALUES)
    before = Account.objects.count(), Station.objects.count(), Event.objects.count()
    said = set_up(monkeypatch, "--trade")
    assert "There is an account of a lead already." in said
    assert "There are stations already" in said
    assert (Account.objects.count(), Station.objects.count(), Event.objects.count()) == before
    assert Studio.current().name == "North Light"


def test_without_the_usual_stations(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    set_up(monkeypatch, **VALUES)
    assert not Station.objects.exists()


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"LEAD_PASSWORD": "short"}, "at least 12"),
        ({"LEAD_PASSWORD": ""}, "in LEAD_PASSWORD"),
        ({"STUDIO_TIME_ZONE": "Mars"}, "is not a time zone"),
    ],
)
def test_what_cannot_be_is_said(
    db: None, monkeypatch: pytest.MonkeyPatch, values: dict[str, str], sentence: str
) -> None:
    with pytest.raises(CommandError, match=sentence):
        set_up(monkeypatch, **VALUES | values)
    assert not Account.objects.exists()


def test_on_a_terminal_it_asks(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []
    answers = iter(["North Light", "America/Chicago", "nora", "cobalt and amber", "cobalt and amber", "n"])

    def answer(question: str) -> str:
        asked.append(question)
        return next(answers)

    for name in VALUES:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", answer)
    monkeypatch.setattr("getpass.getpass", answer)
    call_command("set_up", stdout=StringIO())
    assert len(asked) == 6
    assert asked[3].startswith("Password (at least 12 characters)")
    assert (Studio.current().name, Studio.current().time_zone) == ("North Light", "America/Chicago")
    lead = Account.objects.get()
    assert (lead.username, lead.role, lead.check_password("cobalt and amber")) == ("nora", Role.LEAD, True)
    assert not Station.objects.exists()
