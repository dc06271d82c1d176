"""Signing in with a one-time code behind the password, and switching it on and off."""

import pytest
from django.contrib.auth import get_user
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django_otp.plugins.otp_totp.models import TOTPDevice

from jobs.actions import Actor, accounts
from jobs.models import Account, Event, SignedIn, Studio
from jobs.views import codes as views
from tests.actions.test_codes import shown
from tests.pages.test_account import PASSWORD, sign_in

PAGE, ENTER = "/account/code/", "/sign-in/code/"


def do(client: Client, verb: str, **typed: str):
    return client.post(reverse("account-code-do", args=[verb]), typed)


def now() -> float:
    return timezone.now().timestamp()


def enter(client: Client, code: str):
    return client.post(ENTER, {"code": code})


@pytest.fixture
def recovery(office_client: Client, office: Account) -> list[str]:
    """The office has switched its code on; its recovery codes."""
    assert do(office_client, "begin")["Location"] == PAGE
    app = TOTPDevice.objects.get()
    page = office_client.get(PAGE).content.decode()
    assert "data:image/png;base64," in page
    assert do(office_client, "on", code="12").status_code == 422
    TOTPDevice.objects.update(throttling_failure_count=0)
    answer = do(office_client, "on", code=shown(app, now()))
    assert answer["Cache-Control"] == "no-store"
    return [part.partition("<")[0] for part in answer.content.decode().split("<code>")[1:]]


def test_the_password_alone_signs_nobody_in(client: Client, recovery: list[str], office: Account) -> None:
    assert sign_in(client, "office", next="/jobs/")["Location"] == ENTER
    assert get_user(client).is_anonymous
    assert client.get("/jobs/").status_code == 302
    wrong = enter(client, "aaaaa-aaaaa")
    assert (wrong.status_code, "not the code" in wrong.content.decode()) == (422, True)
    assert get_user(client).is_anonymous
    from django_otp.plugins.otp_static.models import StaticDevice

    StaticDevice.objects.update(throttling_failure_count=0)
    key = client.session.session_key
    assert enter(client, recovery[0])["Location"] == "/jobs/"
    assert get_user(client) == office
    assert client.session.session_key != key
    assert client.get(ENTER)["Location"] == reverse("sign-in")


def test_the_app_signs_in(client: Client, recovery: list[str], office: Account) -> None:
    TOTPDevice.objects.update(last_t=-1)  # As if half a minute had passed.
    sign_in(client, "office")
    assert enter(client, shown(TOTPDevice.objects.get(), now()))["Location"] == "/"
    assert get_user(client) == office


def test_half_a_way_in_does_not_last(
    client: Client, recovery: list[str], office: Account, lead: Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert enter(client, recovery[0])["Location"] == reverse("sign-in")
    sign_in(client, "office")
    with monkeypatch.context() as later:
        later.setattr(views, "HALF_SECONDS", -1)
        assert enter(client, recovery[0])["Location"] == reverse("sign-in")
    sign_in(client, "office")
    accounts.set_password(office, "cobalt and amber", by=Actor(account=lead), at=timezone.now())
    assert enter(client, recovery[0])["Location"] == reverse("sign-in")
    assert get_user(client).is_anonymous


def test_switching_on_ends_what_came_in_without(office_client: Client, office: Account) -> None:
    other = Client()
    sign_in(other, "office")
    do(office_client, "begin")
    do(office_client, "on", code=shown(TOTPDevice.objects.get(), now()))
    assert other.get("/").status_code == 302
    assert office_client.get("/").status_code == 200
    assert SignedIn.objects.filter(account=office).count() == 1


def test_it_is_switched_off_with_the_password(
    client: Client, office_client: Client, recovery: list[str]
) -> None:
    wrong = do(office_client, "off", password="wrong")
    assert (wrong.status_code, "not your present password" in wrong.content.decode()) == (422, True)
    assert do(office_client, "recovery", password="wrong").status_code == 422
    made = do(office_client, "recovery", password=PASSWORD).content.decode()
    assert made.count("<code>") == 10
    assert recovery[0] not in made
    assert do(office_client, "off", password=PASSWORD)["Location"] == PAGE
    assert sign_in(client, "office")["Location"] == "/"
    verbs = Event.objects.filter(subject="account").order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == ["switched on the code of", "made recovery codes of", "switched off the code of"]


def test_the_lead_helps_who_has_lost_the_phone(
    client: Client, lead_client: Client, office: Account, recovery: list[str]
) -> None:
    page, address = (
        reverse(name, args=[office.pk]) for name in ("set-up-account", "set-up-account-code-off")
    )
    assert address in lead_client.get(page).content.decode()
    assert lead_client.post(address)["Location"] == page
    assert sign_in(client, "office")["Location"] == "/"
    again = lead_client.post(address)
    assert (again.status_code, "No code is asked for" in again.content.decode()) == (422, True)


def test_a_studio_can_ask_it_of_its_lead(lead_client: Client, office_client: Client, lead: Account) -> None:
    Studio.objects.update(leads_need_code=True)
    for address in ("/", "/set-up/", "/admin/"):
        assert lead_client.get(address)["Location"] == PAGE
    assert "switch it on first" in lead_client.get("/", follow=True).content.decode()
    assert office_client.get("/").status_code == 200
    do(lead_client, "begin")
    do(lead_client, "on", code=shown(TOTPDevice.objects.get(), now()))
    assert lead_client.get("/set-up/").status_code == 200


def test_what_nobody_can_do_is_not_there(office_client: Client, tablet_client: Client) -> None:
    assert do(office_client, "fly").status_code == 404
    refused = do(tablet_client, "begin")
    assert (refused.status_code, "Tablets are paired instead" in refused.content.decode()) == (422, True)
    assert do(office_client, "off", password=PASSWORD).status_code == 422
