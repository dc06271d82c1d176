"""Reading in a list of jobs: the page."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from jobs.models import Job

HEAD = "job,title,customer,panel,width,height\n"


def send(client: Client, text: str | bytes) -> object:
    data = text.encode() if isinstance(text, str) else text
    return client.post("/jobs/import/", {"file": SimpleUploadedFile("jobs.csv", data, "text/csv")})


def text(response: object) -> str:
    return response.content.decode()  # type: ignore[attr-defined]


def test_page_names_the_columns_and_routes(office_client: Client) -> None:
    page = text(office_client.get("/jobs/import/"))
    for said in (
        "job, title, customer, panel, width, height",
        "wanted_by",
        "hours: cutting",
        "Beveled window",
    ):
        assert said in page


def test_list_is_taken(office_client: Client) -> None:
    response = send(
        office_client, HEAD + "7,Hall,Alder House,Left,24 in,36 in\n8,Porch,Alder House,Left,9,9\n"
    )
    assert response.status_code == 200  # type: ignore[attr-defined]
    assert "2 jobs are entered." in text(response)
    assert 'href="/jobs/7/"' in text(response)
    assert Job.objects.count() == 2


def test_faults_stand_with_their_lines(office_client: Client) -> None:
    response = send(office_client, HEAD + "7,Hall,Alder House,Left,24 in,36 in\n8,,Alder House,<b>,x,9\n")
    assert response.status_code == 422  # type: ignore[attr-defined]
    assert "<strong>Line 3</strong> Say what the job is" in text(response)
    assert "Nothing was taken: 1 line has faults." in text(response)
    assert not Job.objects.exists()


def test_only_some_of_very_many_faults_are_shown(office_client: Client) -> None:
    response = send(office_client, HEAD + "a/b,Hall,Alder House,Left,9,9\n" * 250)
    assert text(response).count("<strong>Line") == 200
    assert "more." in text(response)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [(b"", "The list is empty"), (b"x" * 2_097_153, "larger than 2 MB"), (b"\xff\xfe", "UTF-8")],
)
def test_what_is_no_list(office_client: Client, data: bytes, sentence: str) -> None:
    response = send(office_client, data)
    assert response.status_code == 422  # type: ignore[attr-defined]
    assert sentence in text(response)


def test_no_file(office_client: Client) -> None:
    response = office_client.post("/jobs/import/")
    assert response.status_code == 422
    assert "This field is required" in text(response)


def test_template(office_client: Client) -> None:
    response = office_client.get("/jobs/import/template.csv")
    assert response.headers["Content-Type"] == "text/csv; charset=utf-8"
    assert "hours: beveling" in response.content.decode("utf-8-sig").splitlines()[0]
    assert send(office_client, response.content).status_code == 200  # type: ignore[attr-defined]


def test_wrong_person_and_method(tablet_client: Client, office_client: Client) -> None:
    assert send(tablet_client, HEAD).status_code == 403  # type: ignore[attr-defined]
    assert office_client.delete("/jobs/import/").status_code == 405
    assert office_client.post("/jobs/import/template.csv").status_code == 405
