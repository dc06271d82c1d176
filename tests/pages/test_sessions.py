"""Where one is signed in: seen, and ended at the next request."""

from datetime import timedelta

import pytest
from django.contrib.auth import get_user
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.actions import Actor, Refused
from jobs.actions.sessions import end_session
from jobs.models import Account, Event, SignedIn, Tablet
from jobs.models.devices import in_words
from tests.pages.test_account import PASSWORD, change, sign_in

# As these browsers tell of themselves; from memory.
FIREFOX = "Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:140.0) Gecko/20100101 Firefox/140.0"
IPAD = "Mozilla/5.0 (iPad; CPU OS 18_1 like Mac OS X) AppleWebKit/605.1.15 Version/18.1 Safari/604.1"
CHROME = (
    "Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Safari/537.36"
)
EDGE = f"{CHROME} Edg/140.0.0.0"


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (FIREFOX, "Firefox on Windows"),
        (IPAD, "Safari on an iPad"),
        (CHROME, "Chrome on Linux"),
        (EDGE, "Edge on Linux"),
        ("curl/8.0", "an unknown device"),
        ("", "an unknown device"),
        ("Thing (Android 14)", "something on Android"),
    ],
)
def test_a_device_in_words(agent: str, words: str) -> None:
    assert in_words(agent) == words


def come(name: str, agent: str) -> Client:
    client = Client(headers={"user-agent": agent})
    assert sign_in(client, name).status_code == 302
    return client


def test_ones_own_sessions_are_listed_with_device_time_and_place(office: Account, lead: Account) -> None:
    desk, ipad = come("office", FIREFOX), come("office", IPAD)
    come("lead", CHROME)
    page = desk.get(reverse("account")).content.decode()
    assert "Firefox on Windows" in page
    assert "Safari on an iPad" in page
    assert "Chrome on Linux" not in page
    assert page.count("from 127.0.0.1") == 2
    assert page.count("(this one)") == 1
    assert ipad.session.session_key not in page


def test_one_is_ended_and_is_out_at_its_next_request(office: Account) -> None:
    desk, ipad = come("office", FIREFOX), come("office", IPAD)
    row = SignedIn.objects.get(agent=IPAD)
    address = reverse("session-end", args=[row.handle])
    assert desk.get(address).status_code == 405
    assert desk.post(address)["Location"] == reverse("account")
    assert ipad.get("/")["Location"].startswith(reverse("sign-in"))
    assert desk.get("/").status_code == 200
    event = Event.objects.get(verb="signed out")
    assert (event.account, event.subject_id, event.before["device"]) == (
        office,
        office.pk,
        "Safari on an iPad",
    )
    assert desk.post(address).status_code == 404


def test_ending_ones_own_is_signing_out(office: Account) -> None:
    desk = come("office", FIREFOX)
    address = reverse("session-end", args=[SignedIn.objects.get().handle])
    assert desk.post(address)["Location"] == reverse("sign-in")
    assert get_user(desk).is_anonymous
    assert not SignedIn.objects.filter(account=office).exists()


def test_nobody_ends_anothers_but_who_keeps_accounts(office: Account, lead: Account) -> None:
    desk, lead_client = come("office", FIREFOX), come("lead", CHROME)
    of_lead, of_office = (SignedIn.objects.get(account=account).handle for account in (lead, office))
    assert desk.post(reverse("session-end", args=[of_lead])).status_code == 404
    assert desk.post(reverse("set-up-session-end", args=[of_lead])).status_code == 403
    assert "Firefox on Windows" in lead_client.get(reverse("set-up-signed-in")).content.decode()
    lead_client.post(reverse("set-up-session-end", args=[of_office]))
    assert desk.get("/").status_code == 302
    assert lead_client.get("/").status_code == 200


def test_all_others_end_at_once(office: Account) -> None:
    desk, ipad = come("office", FIREFOX), come("office", IPAD)
    assert "nowhere else now" in desk.post(reverse("sessions-end-others"), follow=True).content.decode()
    assert "were nowhere else" in desk.post(reverse("sessions-end-others"), follow=True).content.decode()
    assert ipad.get("/").status_code == 302


def test_a_new_password_ends_the_others_and_an_ended_account_all(office: Account, lead: Account) -> None:
    desk, ipad = come("office", FIREFOX), come("office", IPAD)
    assert change(desk, PASSWORD).status_code == 302
    assert desk.get("/").status_code == 200
    assert ipad.get("/").status_code == 302
    assert SignedIn.objects.filter(account=office).count() == 1
    lead_client = come("lead", CHROME)
    lead_client.post(reverse("set-up-account-end", args=[office.pk]))
    assert desk.get("/").status_code == 302
    assert not SignedIn.objects.filter(account=office).exists()


def test_when_it_was_last_seen_is_written_every_few_minutes_alone(office: Account) -> None:
    desk = come("office", FIREFOX)
    long_ago = timezone.now() - timedelta(minutes=7)
    SignedIn.objects.update(seen=long_ago)
    with CaptureQueriesContext(connection) as first:
        desk.get("/pulse/")
    assert SignedIn.objects.get().seen > long_ago
    with CaptureQueriesContext(connection) as then:
        desk.get("/pulse/")
    writes = [[query for query in some if query["sql"].startswith("UPDATE")] for some in (first, then)]
    assert [len(some) for some in writes] == [1, 0]


def test_a_question_for_news_takes_no_cookie_away(office: Account) -> None:
    """It may have been asked with the session of before, while somebody has signed in anew beside it."""
    desk = come("office", FIREFOX)
    SignedIn.objects.all().delete()
    answer = desk.get("/pulse/")
    assert answer.status_code == 302
    assert "sessionid" not in answer.cookies
    assert desk.get("/").cookies["sessionid"].value == ""


def test_a_row_is_told_from_a_tablet(lead: Account, office: Account, lead_client: Client) -> None:
    tablet = Tablet.objects.create(name="Bevel 1", account=office, made_at=timezone.now())
    desk = come("office", IPAD)
    SignedIn.objects.filter(account=office).update(tablet=tablet)
    row = SignedIn.objects.get(account=office)
    answer = lead_client.post(reverse("set-up-session-end", args=[row.handle]), follow=True)
    assert "it is revoked among the tablets" in answer.content.decode()
    assert "tablet Bevel 1" in answer.content.decode()
    # Without the tablet's secret its session opens nothing.
    assert desk.get("/").status_code == 302


def test_what_ended_a_moment_ago_is_refused(office: Account) -> None:
    come("office", FIREFOX)
    row = SignedIn.objects.get()
    SignedIn.objects.all().delete()
    with pytest.raises(Refused, match="ended already"):
        end_session(row, by=Actor(account=office), at=timezone.now())
