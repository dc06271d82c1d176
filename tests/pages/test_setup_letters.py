"""Set-up: what letters say; and the site and the papers on the page of a job."""

import pytest
from django.test import Client
from django.urls import reverse

from jobs.actions.letter_settings import TEXTS
from jobs.models import Job, LetterSettings
from tests import cast

PAGE = reverse("set-up-letters")


def typed(**more: str) -> dict[str, str]:
    row = LetterSettings.current()
    figures = {
        "lift_kg": "20",
        "two_from_mm": "47 1/4 in",
        "crate_panels": "6",
        "crate_kg": "120",
        "board_kg_m2": "9",
    }
    return {name: getattr(row, name) for name in TEXTS} | figures | more


def test_it_is_saved(lead_client: Client) -> None:
    assert lead_client.get(PAGE).status_code == 200
    assert lead_client.post(PAGE, typed(care="Dust it.", lift_kg="15")).status_code == 302
    row = LetterSettings.current()
    assert (row.care, row.lift_kg) == ("Dust it.", 15)


def test_what_cannot_be_stands_there_still(lead_client: Client) -> None:
    answer = lead_client.post(PAGE, typed(lift_kg="0.5", care="Dust it."))
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "from 1 to 100 kg" in text
    assert "Dust it." in text


def test_only_the_lead(office_client: Client) -> None:
    assert office_client.get(PAGE).status_code == 403


@pytest.fixture
def job(shop: None) -> Job:
    return cast.make_job()


def test_the_site_of_a_job(office_client: Client, job: Job) -> None:
    page = job.get_absolute_url()
    assert "Nothing but the customer" in office_client.get(page).content.decode()
    assert 'name="site_access"' in office_client.get(f"{page}?edit=site").content.decode()
    change = reverse("job-change", args=["0412", "site"])
    answer = office_client.post(change, {"site_address": "4 Quay Lane", "site_access": "Ramp at the back"})
    assert answer.status_code == 303
    text = office_client.get(page).content.decode()
    assert "4 Quay Lane" in text
    assert "Ramp at the back" in text
    assert "given its site" in text
    answer = office_client.post(change, {"site_contact": "x" * 81})
    assert answer.status_code == 422


def test_the_papers_of_a_job(office_client: Client, job: Job) -> None:
    text = office_client.get(job.get_absolute_url()).content.decode()
    for paper in ("approval", "delivery", "installation"):
        assert reverse("letter", args=["0412", paper]) in text
    assert reverse("letter", args=["0412", "completion"]) not in text
