"""Set-up of groups, and what somebody in one may open then."""

import pytest
from django.contrib.auth.models import Group
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.models import Account, May, Role
from jobs.models.permissions import granted_to


@pytest.fixture
def setters(lead_client: Client) -> Group:
    typed = {"name": "Office with rates", "may": [May.SET_RATES]}
    assert lead_client.post(reverse("set-up-groups"), typed).status_code == 302
    return Group.objects.get(name="Office with rates")


def test_a_group_of_the_studio_opens_what_it_says(
    lead_client: Client, office_client: Client, office: Account, setters: Group
) -> None:
    rate, change = reverse("rate", args=["cutting"]), reverse("rate-setup", args=["cutting"])
    assert office_client.post(change).status_code == 403
    assert change not in office_client.get(rate).content.decode()
    typed = {"groups": [setters.pk]}
    page = reverse("set-up-account", args=[office.pk])
    assert lead_client.post(reverse("set-up-account-groups", args=[office.pk]), typed)["Location"] == page
    assert "checked" in lead_client.get(page).content.decode()
    assert change in office_client.get(rate).content.decode()
    assert office_client.post(change).status_code == 422
    assert office_client.get(reverse("set-up")).status_code == 403
    lead_client.post(reverse("set-up-group-remove", args=[setters.pk]))
    assert office_client.post(change).status_code == 403


def test_a_group_is_listed_and_changed(lead_client: Client, setters: Group) -> None:
    listed = lead_client.get(reverse("set-up-groups")).content.decode()
    assert "Office with rates" in listed
    assert "made group" in listed
    typed = {"name": "Costs", "may": [May.SEE_COSTS]}
    page = reverse("set-up-group", args=[setters.pk])
    assert 'value="Office with rates"' in lead_client.get(page).content.decode()
    assert lead_client.post(page, typed).status_code == 302
    setters.refresh_from_db()
    assert (setters.name, granted_to(setters)) == ("Costs", {May.SEE_COSTS})


def test_what_is_refused_keeps_what_was_typed(lead_client: Client, setters: Group, office: Account) -> None:
    answer = lead_client.post(reverse("set-up-groups"), {"name": "lead", "may": [May.SEE_COSTS]})
    assert (answer.status_code, 'value="lead"' in answer.content.decode()) == (422, True)
    assert "a group “lead” already" in answer.content.decode()
    answer = lead_client.post(reverse("set-up-group", args=[setters.pk]), {"name": "Other"})
    assert "Choose at least one thing" in answer.content.decode()
    answer = lead_client.post(reverse("set-up-account-groups", args=[office.pk]), {"groups": [999]})
    assert answer.status_code == 422


def test_the_group_of_a_role_has_no_page(lead_client: Client) -> None:
    role = Group.objects.get(name="office")
    assert lead_client.get(reverse("set-up-group", args=[role.pk])).status_code == 404
    assert lead_client.post(reverse("set-up-group-remove", args=[role.pk])).status_code == 404


def test_what_somebody_may_is_read_without_a_query_of_its_own(tablet_client: Client) -> None:
    tablet_client.get("/pulse/")
    with CaptureQueriesContext(connection) as found:
        assert tablet_client.get("/pulse/").status_code == 200
    about = [query["sql"] for query in found if "auth_" in query["sql"] or "account" in query["sql"]]
    # The session with its tablet, and the account with what it may.
    assert [sql.count("jobs_signedin") > 0 for sql in about] == [True, False]
    assert len(found) == 5


def test_keeping_accounts_leads_to_accounts_alone(
    lead_client: Client, office_client: Client, office: Account
) -> None:
    group = Group.objects.create(name="Keepers")
    group.permissions.set(Group.objects.get(name=Role.LEAD).permissions.filter(codename=May.KEEP_ACCOUNTS))
    office.groups.add(group)
    assert f'href="{reverse("set-up-accounts")}"' in office_client.get("/").content.decode()
    assert office_client.get(reverse("set-up-accounts")).status_code == 200
    assert office_client.get(reverse("set-up-people")).status_code == 403
