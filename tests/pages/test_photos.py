"""Photos on pages: taken at a bench and in the office, served to who may see them, shared with the customer."""

import json
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.customer_links import revoke_link
from jobs.actions.photos import add_photo, share_photo
from jobs.models import Account, CustomerLink, Event, LateTap, Operation, Panel, Photo, Stage, Tap
from jobs.views import by_link
from studio import uploads
from tests import cast, customers
from tests.bench_page.test_bench import Clock, come
from tests.bench_page.test_bench import clock as clock
from tests.bench_page.test_outbox import BEVELING, OUTBOX, item, mark
from tests.cast import at
from tests.photos import photo_bytes, picture, read


@pytest.fixture
def panel(shop: None) -> Panel:
    return cast.make_panel(cast.make_job(), kinds=("Beveling",))


@pytest.fixture
def work(panel: Panel) -> Operation:
    return cast.operation_of(panel, "Beveling")


@pytest.fixture
def by(office: Account) -> Actor:
    return Actor(account=office)


@pytest.fixture
def photo(panel: Panel, by: Actor) -> Photo:
    return add_photo(panel, picture(), caption="The border", by=by, at=at(2, "09:00"))


def sent(data: bytes | None = None, name: str = "IMG_0001.HEIC.exe") -> SimpleUploadedFile:
    """A file whose name and kind say nothing true."""
    return SimpleUploadedFile(name, photo_bytes() if data is None else data, content_type="text/html")


def text(answer: HttpResponse) -> str:
    return answer.content.decode()


# At the bench


def test_a_photo_is_taken_at_the_bench(tablet_client: Client, work: Operation, clock: Clock) -> None:
    come(tablet_client, "Mara", BEVELING)
    tap = {"file": sent(), "caption": "First bevel", "client_id": str(uuid4())}
    for _ in range(2):
        tap["file"].seek(0)
        answer = tablet_client.post(f"{BEVELING}{work.pk}/photo/", tap, follow=True)
    photo = Photo.objects.get()
    assert (photo.person, photo.taken_at) == (cast.person("Mara"), clock.time)
    page = text(answer)
    assert "1 photo<" in page
    assert f'src="/photos/{photo.pk}/small.jpg" alt="First bevel"' in page
    assert f"/photos/{photo.pk}/?bench=beveling" in page


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "That file is empty."),
        (b"<svg/>", "JPEG, PNG or WebP"),
        (photo_bytes(600, 400)[:-400], "not whole"),
    ],
)
def test_what_is_no_photo_is_refused_beside_what_was_typed(
    tablet_client: Client, work: Operation, clock: Clock, data: bytes, sentence: str
) -> None:
    come(tablet_client, "Mara", BEVELING)
    typed = {"file": sent(data), "caption": "First bevel"}
    answer = tablet_client.post(f"{BEVELING}{work.pk}/photo/", typed)
    assert answer.status_code == 422
    assert sentence in text(answer)
    assert 'value="First bevel"' in text(answer)
    assert not Photo.objects.exists()


def test_without_a_file_or_a_panel(tablet_client: Client, work: Operation, clock: Clock) -> None:
    come(tablet_client, "Mara", BEVELING)
    answer = tablet_client.post(f"{BEVELING}{work.pk}/photo/", {})
    assert (answer.status_code, "Take a photo first." in text(answer)) == (422, True)
    Operation.objects.update(panel=None)
    answer = post_late(tablet_client, [item(mark(tablet_client), "photo", work, clock.time)], sent())
    assert "of no panel" in answer.json()["results"][0]["sentence"]
    assert not Photo.objects.exists()


def post_late(client: Client, batch: Any, file: Any = None) -> Any:
    files = {"file": file} if file else {}
    return client.post(OUTBOX, {"batch": json.dumps({"items": batch})} | files)


def test_one_taken_without_the_line_comes_later_and_once(
    tablet_client: Client, work: Operation, clock: Clock
) -> None:
    clock.time = at(2, "10:00")
    tap = item(mark(tablet_client), "photo", work, at(2, "09:30"), caption="First bevel")
    for _ in range(2):
        answer = post_late(tablet_client, [tap], sent())
        assert answer.json()["results"] == [
            {"id": tap["id"], "state": "done", "sentence": "The photo is kept."}
        ]
    photo = Photo.objects.get()
    assert (photo.taken_at, photo.caption, photo.person) == (
        at(2, "09:30"),
        "First bevel",
        cast.person("Mara"),
    )
    assert Tap.objects.count() == 1


def test_a_late_one_that_is_none_is_refused_and_the_lead_told(
    tablet_client: Client, work: Operation, clock: Clock
) -> None:
    tap = item(mark(tablet_client), "photo", work, clock.time, caption="First bevel")
    answer = post_late(tablet_client, [tap], sent(b"GIF89a"))
    [result] = answer.json()["results"]
    assert (result["state"], "JPEG, PNG or WebP" in result["sentence"]) == ("refused", True)
    assert LateTap.objects.get().typed == {"caption": "First bevel"}
    answer = post_late(tablet_client, [tap | {"id": str(uuid4())}])
    assert "Take a photo first." in answer.json()["results"][0]["sentence"]
    assert post_late(tablet_client, "no list").status_code == 400


# In the office


def test_the_office_adds_one_on_the_page_of_the_panel(office_client: Client, panel: Panel) -> None:
    answer = office_client.post(
        "/jobs/0412/1/photos/", {"file": sent(), "caption": "At the door"}, follow=True
    )
    photo = Photo.objects.get()
    page = text(answer)
    assert f'src="/photos/{photo.pk}/small.jpg" alt="At the door"' in page
    assert "<strong>Photo of Light 1</strong> added" in page
    assert photo.taken_by == "Emil Horn"


def test_what_the_office_sends_wrong_is_refused_beside_what_was_typed(
    office_client: Client, panel: Panel
) -> None:
    answer = office_client.post("/jobs/0412/1/photos/", {"file": sent(b"%PDF-"), "caption": "At the door"})
    assert answer.status_code == 422
    assert "JPEG, PNG or WebP" in text(answer)
    assert 'value="At the door"' in text(answer)
    assert office_client.get("/jobs/0412/1/photos/").status_code == 405


def test_what_is_too_large_is_cut_off_on_its_way_and_refused(
    office_client: Client, panel: Panel, monkeypatch: Any
) -> None:
    monkeypatch.setattr(uploads, "MOST_BYTES", 64 * 1024)
    monkeypatch.setattr("jobs.forms.photos.MOST_BYTES", 50_000)
    large = sent(photo_bytes() + b"\0" * 300_000)
    answer = office_client.post("/jobs/0412/1/photos/", {"file": large})
    assert (answer.status_code, "too large" in text(answer)) == (422, True)
    monkeypatch.setattr(uploads, "MOST_IN_ALL", 1000)
    large.seek(0)
    assert office_client.post("/jobs/0412/1/photos/", {"file": large}).status_code == 400
    assert not Photo.objects.exists()


def test_shared_captioned_and_taken_back(office_client: Client, photo: Photo) -> None:
    where = f"/photos/{photo.pk}/"
    answer = office_client.post(f"{where}change/share/", follow=True)
    assert answer.redirect_chain == [("/jobs/0412/1/#photos", 303)]
    assert "The customer sees it." in text(answer)
    assert "shared with the customer" in text(answer)
    answer = office_client.post(f"{where}change/unshare/?from=photo", follow=True)
    assert answer.redirect_chain == [(where, 303)]
    assert "The customer sees it." not in text(answer)
    office_client.post(f"{where}change/caption/", {"caption": "The other border"})
    photo.refresh_from_db()
    assert photo.caption == "The other border"
    answer = office_client.post(f"{where}change/caption/", {"caption": "a" * 121})
    assert (answer.status_code, "a" * 121 in text(answer)) == (422, True)
    assert office_client.post(f"{where}change/burn/").status_code == 404
    answer = office_client.post(f"{where}take-back/", follow=True)
    assert answer.redirect_chain == [("/jobs/0412/1/#photos", 303)]
    assert Event.objects.filter(verb="taken back").count() == 1
    assert office_client.get(where).status_code == 404


# Who sees it


def test_it_is_served_as_a_picture_and_nothing_else(office_client: Client, photo: Photo) -> None:
    for size in ("picture", "small"):
        answer = office_client.get(f"/photos/{photo.pk}/{size}.jpg")
        assert read(answer.content).format == "JPEG"
        assert answer["Content-Type"] == "image/jpeg"
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert answer["Content-Disposition"] == 'inline; filename="photo.jpg"'
        assert answer["Cache-Control"] == "private, max-age=3600"
        assert answer["Content-Security-Policy"] == "default-src 'none'"


def test_its_file_has_no_address(office_client: Client, photo: Photo) -> None:
    for where in (f"/static/{photo.file.name}", f"/media/{photo.file.name}", f"/{photo.file.name}"):
        assert office_client.get(where).status_code == 404
    Path(photo.file.path).unlink()
    assert office_client.get(f"/photos/{photo.pk}/picture.jpg").status_code == 404


def test_the_bench_sees_those_of_the_floor_and_takes_back_its_own(
    tablet_client: Client, photo: Photo, clock: Clock
) -> None:
    where = f"/photos/{photo.pk}/"
    assert 'href="/bench/beveling/"' in text(tablet_client.get(f"{where}?bench=beveling"))
    assert tablet_client.get(f"{where}small.jpg").status_code == 200
    answer = tablet_client.post(f"{where}take-back/")
    assert (answer.status_code, "Who took the photo can take it back" in text(answer)) == (422, True)
    Photo.objects.update(person=cast.person("Mara"))
    come(tablet_client, "Mara", BEVELING)
    answer = tablet_client.post(f"{where}take-back/?bench=beveling")
    assert (answer.status_code, answer["Location"]) == (303, BEVELING)
    assert not Photo.objects.exists()


def test_the_bench_sees_none_of_a_job_that_is_over(tablet_client: Client, photo: Photo) -> None:
    photo.panel.job.stage = Stage.COMPLETE
    photo.panel.job.save()
    for rest in ("", "picture.jpg", "small.jpg"):
        assert tablet_client.get(f"/photos/{photo.pk}/{rest}").status_code == 404
    assert tablet_client.post(f"/photos/{photo.pk}/take-back/").status_code == 404


# The customer


@pytest.fixture
def link(photo: Photo, office: Account) -> CustomerLink:
    return customers.make_customer_link(photo.panel.job, office)


def test_the_customer_sees_what_is_shared_and_nothing_else(
    client: Client, link: CustomerLink, photo: Photo, by: Actor
) -> None:
    hidden = add_photo(photo.panel, picture(), caption="The workshop", by=by, at=at(2))
    other = add_photo(cast.make_panel(cast.make_job("0413")), picture(), by=by, at=at(2))
    for row in (photo, other):
        share_photo(row, by=by, at=at(3))
    page = text(client.get(f"/c/{link.token}/"))
    where = f"/c/{link.token}/photos/{photo.pk}.jpg"
    assert f"{photo.panel.name}: {photo.caption}" in page
    assert f'src="{where}" width="60" height="40" alt="The border"' in page
    assert "The workshop" not in page
    answer = client.get(where)
    assert read(answer.content).size == (60, 40)
    assert answer["Cache-Control"] == "private, max-age=3600"
    assert "noindex" in answer["X-Robots-Tag"]
    nothing = client.get("/c/nothing/")
    for row in (hidden, other):
        answer = client.get(f"/c/{link.token}/photos/{row.pk}.jpg")
        assert (answer.status_code, answer.content) == (404, nothing.content)
    assert client.get(f"/photos/{photo.pk}/picture.jpg").status_code == 302


def test_a_link_that_opens_nothing_opens_no_photo(
    client: Client, link: CustomerLink, photo: Photo, by: Actor
) -> None:
    share_photo(photo, by=by, at=at(3))
    where = f"/c/{link.token}/photos/{photo.pk}.jpg"
    wrong = client.get(f"/c/{'x' * 32}/photos/{photo.pk}.jpg")
    CustomerLink.objects.update(last_day=timezone.localdate() - timedelta(days=1))
    expired = client.get(where)
    CustomerLink.objects.update(last_day=timezone.localdate() + timedelta(days=1))
    revoke_link(photo.panel.job, by=by, at=timezone.now())
    revoked, page = client.get(where), client.get(f"/c/{link.token}/")
    for answer in (wrong, expired, revoked):
        assert (answer.status_code, answer.content) == (404, page.content)


def test_pictures_are_counted_apart_from_pages(
    client: Client, link: CustomerLink, photo: Photo, by: Actor, monkeypatch: Any
) -> None:
    share_photo(photo, by=by, at=at(3))
    monkeypatch.setattr(by_link, "MOST_A_MINUTE", 1)
    where = f"/c/{link.token}/photos/{photo.pk}.jpg"
    assert [client.get(where).status_code for _ in range(5)] == [200] * 5
    assert client.get(f"/c/{link.token}/").status_code == 200


def test_the_studio_s_preview_shows_them_without_a_link(
    office_client: Client, photo: Photo, by: Actor
) -> None:
    share_photo(photo, by=by, at=at(3))
    page = text(office_client.get("/jobs/0412/customers-page/"))
    assert f'src="/photos/{photo.pk}/picture.jpg"' in page
