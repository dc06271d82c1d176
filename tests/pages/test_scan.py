"""Where the codes on papers lead, for each who scans them."""

import pytest
from django.test import Client

from jobs.models import Panel
from tests import cast


@pytest.fixture
def panel(shop: None) -> Panel:
    return cast.make_panel(cast.make_job())


def where(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 302
    return str(answer["Location"])


def test_the_office_lands_on_the_panels_page(panel: Panel, office_client: Client) -> None:
    assert where(office_client, f"/s/{panel.pk}/") == "/jobs/0412/1/"
    assert where(office_client, f"/s/{panel.pk}/beveling/") == "/jobs/0412/1/"


def test_a_tablet_lands_on_the_panel_at_its_own_bench(panel: Panel, tablet_client: Client) -> None:
    assert where(tablet_client, f"/s/{panel.pk}/") == f"/bench/beveling/?panel={panel.pk}#scanned"


def test_a_code_of_a_bench_lands_at_that_bench(
    panel: Panel, tablet_client: Client, lead_client: Client
) -> None:
    for client in (tablet_client, lead_client):
        assert where(client, f"/s/{panel.pk}/cutting/") == f"/bench/cutting/?panel={panel.pk}#scanned"


def test_a_tablet_without_a_bench_chooses_one_and_keeps_the_panel(panel: Panel) -> None:
    client = Client()
    client.force_login(
        cast.make_account("spare", cast.Role.BENCH), backend="django.contrib.auth.backends.ModelBackend"
    )
    assert where(client, f"/s/{panel.pk}/") == f"/bench/?panel={panel.pk}"
    page = client.get(f"/bench/?panel={panel.pk}").content.decode()
    assert "0412/1 Light 1" in page
    assert f'href="/s/{panel.pk}/cutting/"' in page


def test_whoever_is_not_signed_in_signs_in_and_lands_there(panel: Panel, client: Client) -> None:
    cast.make_account("nora", cast.Role.OFFICE)
    sign_in = where(client, f"/s/{panel.pk}/")
    assert sign_in == f"/sign-in/?next=/s/{panel.pk}/"
    typed = {"username": "nora", "password": "long enough 1", "next": f"/s/{panel.pk}/"}
    answer = client.post(sign_in, typed)
    assert (answer.status_code, answer["Location"]) == (302, f"/s/{panel.pk}/")


def test_no_such_panel_or_bench(panel: Panel, tablet_client: Client) -> None:
    assert tablet_client.get("/s/999999/").status_code == 404
    assert tablet_client.get(f"/s/{panel.pk}/nowhere/").status_code == 404


def test_a_code_is_only_read(panel: Panel, tablet_client: Client) -> None:
    assert tablet_client.post(f"/s/{panel.pk}/").status_code == 405
