"""The delivery note and the installation sheet: masses by density, who carries what, crates, the site, cautions."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from jobs.models import Account, Customer, Job, LetterSettings, OperationKind, Stage, Studio
from jobs.models.loads import loads_of
from tests import cast, quoting
from tests.documents.reading import pages_of
from tests.documents.tags import assert_tagged
from tests.documents.tags import text as text_of

NOTE = reverse("letter", args=["0412", "delivery"])
SITE = reverse("letter", args=["0412", "installation"])


@pytest.fixture
def job(shop: None) -> Job:
    """Two copies of a light of 8.1 kg, and a large one of 24.3 kg that two carry."""
    Studio.objects.update(units="mm")
    job = cast.make_job()
    cast.make_panel(job, 1, width_mm=900, height_mm=600, thickness_mm=6, copies=2)
    cast.make_panel(job, 2, name="Tall light", width_mm=900, height_mm=1800, thickness_mm=6)
    return job


def paper(client: Client, address: str) -> bytes:
    response = client.get(address)
    assert (response.status_code, response["Content-Type"]) == (200, "application/pdf")
    return response.content


def test_masses_by_density(job: Job) -> None:
    # 0.9 x 0.6 m of 6 mm at 2500 kg/m3 (EN 572-1; from memory) is 8.1 kg; three times the area is 24.3 kg.
    load = loads_of(job)
    assert [(row.kg, row.people, row.measured) for row in load.panels] == [
        (Decimal("8.1"), 1, False),
        (Decimal("24.3"), 2, False),
    ]
    assert (load.copies, load.kg) == (3, Decimal("40.5"))


def test_a_panel_that_is_taken_off_weighs_with_its_came(office: Account, shop: None) -> None:
    quoting.make_stock()
    job = quoting.make_enquiry()
    panel = job.panels.get()
    quoting.take_off(panel, office)
    [row] = loads_of(job).panels
    assert row.measured
    assert float(row.kg) == pytest.approx(panel.takeoffs.get().numbers["mass_kg"])
    # 3 mm glass of 0.54 m2 is 4.05 kg; the came is on top of it.
    assert row.kg > Decimal("4.05")


def test_the_delivery_note(office_client: Client, job: Job) -> None:
    data = paper(office_client, NOTE)
    text = text_of(data)
    assert "0412/1 Light 1 900 × 600 mm 2 8.1 kg* 1 1" in text
    assert "0412/2 Tall light 900 × 1800 mm 1 24.3 kg* 2 1" in text
    assert "Panels: 3 pieces, 40.5 kg" in text
    assert "0412/1 (2 copies), 0412/2" in text
    [crate] = loads_of(job).crates
    assert f"{crate.kg:.1f} kg {crate.people}" in text
    assert "2500 kg/m³ (EN 572-1)" in text
    assert "common practice" in text
    assert LetterSettings.current().handling.splitlines()[0] in text
    assert "Received by: name" in text
    assert_tagged(data, "Delivery note 0412")


def test_the_installation_sheet(office_client: Client, job: Job) -> None:
    Job.objects.update(site_address="4 Quay Lane", site_contact="Ada Moss", site_access="Ramp at the back")
    OperationKind.objects.filter(slug="delivery").update(
        slug="installation", cautions="Old paint may hold lead."
    )
    data = paper(office_client, SITE)
    text = text_of(data)
    for words in (
        "4 Quay Lane",
        "Ada Moss",
        "Ramp at the back",
        "900 × 1800 mm",
        "24.3 kg",
        "Old paint may hold lead.",
    ):
        assert words in text
    settings = LetterSettings.current()
    for field in (
        settings.bring,
        settings.sealants,
        settings.site_cautions,
        settings.checks,
        settings.handling,
    ):
        for line in field.splitlines():
            assert line in text
    assert_tagged(data, "Installation 0412")


def test_pounds_where_lengths_are_inches(office_client: Client, job: Job) -> None:
    Studio.objects.update(units="in")
    # 24.3 / 0.45359237 = 53.57
    assert "54 lb" in text_of(paper(office_client, NOTE))


def test_thirty_panels_go_over_pages(office_client: Client, shop: None) -> None:
    job = cast.make_job()
    for number in range(1, 31):
        cast.make_panel(job, number, name="Long north gallery over the inner stair, bay with the two herons")
    pages = pages_of(paper(office_client, NOTE))
    rows = [page for page in pages if "Long north gallery" in page]
    assert len(rows) >= 2
    assert all("No. Panel Size Copies Each People Crate" in page for page in rows)
    assert len(loads_of(job).crates) == 5


@pytest.mark.parametrize("address", [NOTE, SITE])
def test_refusals(office_client: Client, tablet_client: Client, shop: None, address: str) -> None:
    job = cast.make_job()
    assert "has no panel yet" in office_client.get(address, follow=True).content.decode()
    cast.make_panel(job)
    Job.objects.update(stage=Stage.CANCELLED, closed_at=cast.at(2))
    assert "nothing of it is delivered" in office_client.get(address, follow=True).content.decode()
    assert tablet_client.get(address).status_code == 403


@pytest.mark.parametrize("address", [NOTE, SITE])
def test_nothing_of_others(office_client: Client, job: Job, address: str) -> None:
    cast.make_panel(
        cast.make_job("0777", "Rose", customer=Customer.objects.create(name="Abbey")), name="Oculus"
    )
    assert not {"0777", "Rose", "Abbey", "Oculus"} & set(text_of(paper(office_client, address)).split())
