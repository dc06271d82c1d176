"""Tablets: paired once, in by a secret of their own, and out at the next request once they are revoked."""

import json
from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.actions import Actor, Refused, tablets
from jobs.models import Account, Event, Role, SignedIn, Station, Tablet, Tap
from jobs.views.signed_in import TABLET_COOKIE
from tests import cast
from tests.pages.test_account import sign_in

OUTBOX = "/bench/-/outbox/"


@pytest.fixture
def by(lead: Account) -> Actor:
    return Actor(account=lead)


def beveling() -> Station:
    return Station.objects.get(name="Beveling")


@pytest.fixture
def code(by: Actor, tablet: Account) -> str:
    """Of a tablet of the bevel bench that waits to be paired."""
    return tablets.let_in("Bevel 1", beveling(), by=by, at=timezone.now())[1]


def paired(code: str, client: Client | None = None) -> Client:
    client = client or Client()
    answer = client.post(reverse("pair"), {"code": code})
    assert (answer.status_code, answer["Location"]) == (302, "/bench/")
    return client


def test_the_lead_lets_one_in_and_sees_the_code_once(lead_client: Client, tablet: Account) -> None:
    answer = lead_client.post(reverse("set-up-tablets"), {"name": "Bevel 1", "station": beveling().pk})
    row, words = Tablet.objects.get(), answer.content.decode()
    code = words.partition('class="pair-code">')[2][:9].replace(" ", "")
    assert (row.account, answer["Cache-Control"]) == (tablet, "no-store")
    assert code not in str([row.code_digest, *Event.objects.values_list("after", flat=True)])
    assert "not paired yet" in lead_client.get(reverse("set-up-tablets")).content.decode()
    assert paired(code).get("/bench/")["Location"] == "/bench/beveling/"


def test_a_paired_tablet_is_in_by_its_secret_whatever_the_password(
    code: str, tablet: Account, by: Actor
) -> None:
    from jobs.actions.accounts import set_password

    client = paired(f" {code[:4].lower()} {code[4:]} ")
    cookie = client.cookies[TABLET_COOKIE]
    assert (cookie["httponly"], cookie["samesite"], bool(cookie["secure"])) == (True, "Lax", False)
    assert cookie.value not in str(Tablet.objects.values())
    assert client.get("/bench/beveling/").status_code == 200
    set_password(tablet, "cobalt and amber", by=by, at=timezone.now())
    assert client.get("/bench/beveling/").status_code == 200
    # Its session alone, copied elsewhere, opens nothing.
    thief = Client()
    thief.cookies["sessionid"] = client.cookies["sessionid"].value
    assert thief.get("/bench/beveling/").status_code == 302
    assert client.get("/bench/beveling/").status_code == 200


def test_the_cookie_is_secure_where_the_studio_is(code: str, settings) -> None:
    settings.SESSION_COOKIE_SECURE = True
    client = Client()
    client.post(reverse("pair"), {"code": code}, secure=True)
    assert client.cookies[TABLET_COOKIE]["secure"]


def test_a_code_pairs_one_tablet_and_not_for_long(code: str, by: Actor) -> None:
    with pytest.raises(Refused, match="not good, or not any more"):
        tablets.pair(code, at=timezone.now() + tablets.CODE_LASTS + timedelta(seconds=5))
    paired(code)
    for again in (code, "", "--", "AAAAAAAA"):
        answer = Client().post(reverse("pair"), {"code": again})
        assert answer.status_code == 422
        assert TABLET_COOKIE not in answer.cookies


def test_guessing_codes_is_throttled(code: str) -> None:
    client = Client()
    answers = [client.post(reverse("pair"), {"code": "AAAAAAAA"}).status_code for _ in range(20)]
    assert answers == [422] * 20
    refused = client.post(reverse("pair"), {"code": code})
    assert (refused.status_code, refused["Retry-After"]) == (429, "600")


def test_a_tablet_that_is_signed_in_pairs_as_it_is_and_keeps_its_session(
    code: str, tablet_client: Client
) -> None:
    key = tablet_client.session.session_key
    assert 'value="ABCD"' in tablet_client.get(reverse("pair"), {"code": "ABCD"}).content.decode()
    paired(code, tablet_client)
    # A screen that asks for news with the key of before is still in.
    assert tablet_client.session.session_key == key
    assert tablet_client.get("/pulse/").status_code == 200
    assert SignedIn.objects.get().tablet == Tablet.objects.get()


def test_a_revoked_tablet_is_out_and_what_waits_on_it_comes_once_it_is_paired_again(
    code: str, lead_client: Client, tablet: Account
) -> None:
    from django.core.signing import Signer

    work, mara = cast.operation_of(cast.make_panel(cast.make_job()), "Cutting"), cast.person("Mara")
    client, row = paired(code), Tablet.objects.get()
    now = timezone.now()
    facts = {"account": tablet.pk, "person": mara.pk, "since": int(now.timestamp())}
    item = {
        "id": str(uuid4()),
        "verb": "start",
        "pk": work.pk,
        "who": Signer(salt="jobs.views.tablet").sign_object(facts),
        "fields": {},
        "at": int(now.timestamp() * 1000),
    }

    def send() -> int:
        return client.post(OUTBOX, json.dumps({"items": [item]}), content_type="application/json").status_code

    lead_client.post(reverse("set-up-tablet-do", args=[row.pk, "revoke"]))
    assert send() == 302
    assert not Tap.objects.exists()
    assert client.get("/bench/beveling/").status_code == 302
    words = client.get(reverse("sign-in")).content.decode()
    assert "stays on it, and is sent once it is paired again" in words
    assert client.post(reverse("pair-again"))["Location"] == reverse("sign-in")
    shown = lead_client.post(reverse("set-up-tablet-do", args=[row.pk, "code"])).content.decode()
    paired(shown.partition('class="pair-code">')[2][:9], client)
    assert send() == 200
    work.refresh_from_db()
    assert work.keeper == mara
    verbs = Event.objects.filter(subject="tablet").order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == [
        "let in tablet",
        "paired tablet",
        "revoked tablet",
        "gave a code to tablet",
        "paired tablet",
    ]


def test_pairing_again_puts_the_tablet_of_before_out(code: str, by: Actor) -> None:
    lost = paired(code)
    again = tablets.code_again(Tablet.objects.get(), by=by, at=timezone.now())
    assert lost.get("/bench/beveling/").status_code == 200
    paired(again)
    assert lost.get("/bench/beveling/").status_code == 302


def test_after_signing_out_it_goes_on_by_one_tap(code: str) -> None:
    client = paired(code)
    client.post(reverse("sign-out"))
    assert client.get("/bench/beveling/").status_code == 302
    assert "Go on as the tablet Bevel 1" in client.get(reverse("sign-in")).content.decode()
    assert client.post(reverse("pair-again"))["Location"] == "/bench/"
    assert client.get("/bench/beveling/").status_code == 200
    assert Client().post(reverse("pair-again"))["Location"] == reverse("sign-in")


def test_without_an_account_of_the_bench_one_is_made_that_nobody_signs_in_with(by: Actor) -> None:
    tablet, code = tablets.let_in("Cut 1", Station.objects.get(name="Cutting"), by=by, at=timezone.now())
    account = tablet.account
    assert (account.username, account.role, account.has_usable_password()) == (
        "cutting-bench",
        Role.BENCH,
        False,
    )
    assert paired(code).get("/bench/")["Location"] == "/bench/cutting/"
    assert sign_in(Client(), "cutting-bench", "").status_code == 422
    other, _ = tablets.let_in("Cut 2", Station.objects.get(name="Cutting"), by=by, at=timezone.now())
    assert other.account == account


def test_what_cannot_be_is_refused(code: str, by: Actor, lead_client: Client) -> None:
    answer = lead_client.post(reverse("set-up-tablets"), {"name": "BEVEL 1", "station": beveling().pk})
    assert answer.status_code == 422
    assert "a tablet “BEVEL 1” already" in answer.content.decode()
    with pytest.raises(Refused, match="needs a name"):
        tablets.let_in("  ", None, by=by, at=timezone.now())
    row = Tablet.objects.get()
    assert lead_client.post(reverse("set-up-tablet-do", args=[row.pk, "fly"])).status_code == 404
    address = reverse("set-up-tablet-do", args=[row.pk, "revoke"])
    assert lead_client.post(address).status_code == 302
    again = lead_client.post(address)
    assert (again.status_code, "revoked already" in again.content.decode()) == (422, True)


def test_a_tablet_of_an_account_that_ended_is_out(code: str, by: Actor, tablet: Account) -> None:
    from jobs.actions.accounts import end_account

    client = paired(code)
    end_account(tablet, by=by, at=timezone.now())
    assert client.get("/bench/beveling/").status_code == 302
    assert "Go on as" not in client.get(reverse("sign-in")).content.decode()
