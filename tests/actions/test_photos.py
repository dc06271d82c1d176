"""Photos of panels: who takes, sees, shares and takes back which, and what becomes of their files."""

import os
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction

from jobs.actions import Actor, Refused, photos
from jobs.actions.panels import remove_panel
from jobs.actions.photos import (
    add_photo,
    caption_photo,
    photos_for,
    share_photo,
    sweep_photo_files,
    take_back_photo,
    unshare_photo,
)
from jobs.models import Account, Event, Panel, Photo, Stage
from tests import cast
from tests.cast import at
from tests.photos import picture, read


@pytest.fixture
def panel(shop: None) -> Panel:
    return cast.make_panel(cast.make_job())


@pytest.fixture
def by(office: Account) -> Actor:
    return Actor(account=office)


@pytest.fixture
def mara(tablet: Account) -> Actor:
    return Actor(account=tablet, person=cast.person("Mara"))


@pytest.fixture
def photo(panel: Panel, mara: Actor) -> Photo:
    return add_photo(panel, picture(), caption="The first  bevels", by=mara, at=at(3))


def files(photo: Photo) -> list[Path]:
    return [Path(photo.file.path), Path(photo.small.path)]


def test_it_is_kept_with_who_took_it_when_and_what_it_shows(photo: Photo) -> None:
    photo.refresh_from_db()
    assert (photo.caption, photo.taken_at, photo.taken_by) == ("The first bevels", at(3), "Mara Lind")
    assert read(photo.file.read()).size == (photo.width, photo.height) == (60, 40)
    event = Event.objects.get(subject="photo", verb="added")
    assert (event.panel, event.person, event.after) == (photo.panel, photo.person, {"caption": photo.caption})


def test_its_files_have_random_names_which_nobody_else_reads(photo: Photo, panel: Panel, mara: Actor) -> None:
    second = add_photo(panel, picture(), by=mara, at=at(3))
    names = {path.name for row in (photo, second) for path in files(row)}
    assert len(names) == 4
    for path in files(photo):
        assert path.is_relative_to(settings.MEDIA_ROOT)
        assert not path.is_relative_to(settings.STATIC_ROOT)
        assert path.stat().st_mode & 0o777 == 0o600
        assert len(path.stem) == 32


def test_the_same_tap_sent_again_is_one_photo(panel: Panel, mara: Actor) -> None:
    tap = uuid4()
    first, again = (add_photo(panel, picture(), by=mara, at=at(3), client_id=tap) for _ in range(2))
    assert first == again == Photo.objects.get()


def test_the_bench_takes_none_of_jobs_that_are_not_on_the_floor(panel: Panel, mara: Actor, by: Actor) -> None:
    panel.job.stage = Stage.QUOTED
    panel.job.save()
    with pytest.raises(Refused, match="not on the floor"):
        add_photo(panel, picture(), by=mara, at=at(3))
    assert add_photo(panel, picture(), by=by, at=at(3)).taken_by == "Emil Horn"


def test_there_are_only_so_many_of_a_panel(photo: Photo, by: Actor, monkeypatch: Any) -> None:
    monkeypatch.setattr(photos, "MOST", 1)
    with pytest.raises(Refused, match="take some back first"):
        add_photo(photo.panel, picture(), by=by, at=at(3))


def test_a_caption_has_its_length(panel: Panel, by: Actor) -> None:
    with pytest.raises(Refused, match="at most 120"):
        add_photo(panel, picture(), caption="a" * 121, by=by, at=at(3))
    assert not Photo.objects.exists()


def test_the_office_says_what_it_shows(photo: Photo, by: Actor, mara: Actor) -> None:
    with pytest.raises(Refused, match="Only the office"):
        caption_photo(photo, "Mine", by=mara, at=at(3))
    caption_photo(photo, "The border", by=by, at=at(3))
    caption_photo(photo, "The border", by=by, at=at(3))
    event = Event.objects.get(subject="photo", verb="changed")
    assert (event.before, event.after) == ({"caption": "The first bevels"}, {"caption": "The border"})


def test_shared_and_no_longer(photo: Photo, by: Actor, mara: Actor) -> None:
    job = photo.panel.job
    for action in (share_photo, unshare_photo):
        with pytest.raises(Refused, match="Only the office"):
            action(photo, by=mara, at=at(3))
    for _ in range(2):
        share_photo(photo, by=by, at=at(3))
        assert list(Photo.objects.shared_of(job)) == [photo]
    for _ in range(2):
        unshare_photo(photo, by=by, at=at(4))
        assert not Photo.objects.shared_of(job)
    verbs = Event.objects.filter(subject="photo").order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == ["added", "shared with the customer", "no longer shared"]


def test_taken_back_it_is_gone_and_written_down(
    photo: Photo, mara: Actor, django_capture_on_commit_callbacks: Any
) -> None:
    kept = files(photo)
    with django_capture_on_commit_callbacks(execute=True):
        take_back_photo(photo, by=mara, at=at(4))
    assert not Photo.objects.exists()
    assert not any(path.exists() for path in kept)
    event = Event.objects.get(verb="taken back")
    assert event.before["caption"] == "The first bevels"
    assert (event.panel, event.before["by"]) == (photo.panel, "Mara Lind")
    with pytest.raises(Refused, match="taken back already"):
        take_back_photo(photo, by=mara, at=at(4))


def test_who_may_take_it_back(photo: Photo, by: Actor, mara: Actor, tablet: Account) -> None:
    for somebody in (Actor(account=tablet, person=cast.person("Ilse")), Actor(account=tablet)):
        with pytest.raises(Refused, match="Who took the photo"):
            take_back_photo(photo, by=somebody, at=at(4))
    share_photo(photo, by=by, at=at(4))
    with pytest.raises(Refused, match="The customer sees that photo"):
        take_back_photo(photo, by=mara, at=at(4))
    take_back_photo(photo, by=by, at=at(4))
    assert not Photo.objects.exists()


def test_who_sees_which(photo: Photo, by: Actor, mara: Actor) -> None:
    assert list(photos_for(by)) == list(photos_for(mara)) == [photo]
    assert not photos_for(Actor())
    photo.panel.job.stage = Stage.COMPLETE
    photo.panel.job.save()
    assert list(photos_for(by)) == [photo]
    assert not photos_for(mara)


def test_a_panel_with_photos_is_not_taken_out(photo: Photo, by: Actor) -> None:
    with pytest.raises(Refused, match="take them back first"):
        remove_panel(photo.panel, by=by, at=at(4))


def test_files_that_nothing_holds_are_swept_up_after_a_day(photo: Photo) -> None:
    left = default_storage.save("photos/left.jpg", ContentFile(b"left"))
    now = at(3) + timedelta(days=3650)
    for path in (*files(photo), Path(default_storage.path(left))):
        os.utime(path, (at(3).timestamp(), at(3).timestamp()))
    assert sweep_photo_files(at(3, "20:00")) == 0
    assert sweep_photo_files(now) >= 1
    assert not default_storage.exists(left)
    assert all(path.exists() for path in files(photo))


@pytest.mark.parametrize("wrong", [{"file": ""}, {"small": ""}, {"width": 0}, {"height": 0}])
def test_a_row_without_its_picture_is_none(photo: Photo, wrong: dict[str, Any]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Photo.objects.update(**wrong)
