"""Photos of panels: taken, captioned, shared with the customer or no longer, and taken back."""

import secrets
from datetime import datetime, timedelta

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction
from django.db.models import QuerySet

from jobs.models import Panel, Photo, Stage
from jobs.pictures import Picture

from .base import Actor, Refused, record
from .taps import once

# So many tell everything there is to tell of a panel, and so few fit any disk.
MOST = 200
LONGEST_CAPTION = 120
FOLDER = "photos"
# A file that has no row after this long belongs to a request that was cut off, or to a photo taken back.
SWEPT_AFTER = timedelta(days=1)


def photos_for(by: Actor) -> QuerySet[Photo]:
    """The photos that somebody may look at: the office and the lead all, a bench those of jobs on the floor."""
    rows = Photo.objects.select_related("panel__job", "person", "account").defer("panel__drawing")
    if by.is_office:
        return rows
    return rows.filter(panel__job__stage=Stage.ORDERED) if by.account else rows.none()


@once
def add_photo(panel: Panel, picture: Picture, *, caption: str = "", by: Actor, at: datetime) -> Photo:
    """Keep a photo of a panel, taken at `at`. The office adds some to jobs that are not on the floor, too."""
    panel = _locked(panel)
    if panel.job.stage not in (Stage.ORDERED, Stage.COMPLETE) and not by.is_office:
        raise Refused("The job is not on the floor.")
    if panel.photos.count() >= MOST:
        raise Refused("There are %(most)s photos of it: take some back first.", most=MOST)
    photo = Photo(
        panel=panel,
        taken_at=at,
        person=by.person,
        account=by.account,
        caption=_checked(caption),
        width=picture.width,
        height=picture.height,
    )
    photo.file.save(_random_name(), ContentFile(picture.data), save=False)
    photo.small.save(_random_name(), ContentFile(picture.small), save=False)
    photo.save(force_insert=True)
    record("added", photo, by=by, at=at, after={"caption": photo.caption})
    return photo


@once
def caption_photo(photo: Photo, caption: str, *, by: Actor, at: datetime) -> Photo:
    """Say what a photo shows."""
    photo = _office_only(photo, by)
    before, photo.caption = photo.caption, _checked(caption)
    if photo.caption != before:
        photo.save(update_fields=["caption"])
        record("changed", photo, by=by, at=at, before={"caption": before}, after={"caption": photo.caption})
    return photo


@once
def share_photo(photo: Photo, *, by: Actor, at: datetime) -> Photo:
    """Show a photo on the page of the job's customer."""
    photo = _office_only(photo, by)
    if photo.shared_at is None:
        photo.shared_at = at
        photo.save(update_fields=["shared_at"])
        record("shared with the customer", photo, by=by, at=at, after={"caption": photo.caption})
    return photo


@once
def unshare_photo(photo: Photo, *, by: Actor, at: datetime) -> Photo:
    """Show a photo to the customer no longer."""
    photo = _office_only(photo, by)
    if photo.shared_at is not None:
        photo.shared_at = None
        photo.save(update_fields=["shared_at"])
        record("no longer shared", photo, by=by, at=at, before={"caption": photo.caption})
    return photo


@once
def take_back_photo(photo: Photo, *, by: Actor, at: datetime) -> None:
    """Remove a photo and its files; that there was one stays written down."""
    photo = _locked_photo(photo)
    mine = by.person is not None and by.person.pk == photo.person_id
    if not (by.is_office or mine):
        raise Refused("Who took the photo can take it back, or the office.")
    if photo.shared_at is not None and not by.is_office:
        raise Refused("The customer sees that photo: ask the office to take it back.")
    before = {"caption": photo.caption, "taken": photo.taken_at, "by": photo.taken_by}
    record("taken back", photo, by=by, at=at, before=before)
    names = [str(photo.file.name), str(photo.small.name)]
    photo.delete()
    transaction.on_commit(lambda: _delete_files(*names))


def sweep_photo_files(at: datetime) -> int:
    """Delete files without a row, left where a request was killed half way; gives how many."""
    try:
        found = {f"{FOLDER}/{name}" for name in default_storage.listdir(FOLDER)[1]}
    except FileNotFoundError:
        return 0  # Not asked by `exists`: stores of objects have no folders, and say that there is none.
    left = [
        name
        for name in found - {name for row in Photo.objects.values_list("file", "small") for name in row}
        if default_storage.get_modified_time(name) < at - SWEPT_AFTER
    ]
    _delete_files(*left)
    return len(left)


def _delete_files(*names: str) -> None:
    for name in names:
        default_storage.delete(name)


def _random_name() -> str:
    return f"{secrets.token_hex(16)}.jpg"


def _checked(caption: str) -> str:
    caption = " ".join(caption.split())
    if len(caption) > LONGEST_CAPTION:
        raise Refused("Say what it shows in at most %(most)s letters.", "caption", most=LONGEST_CAPTION)
    return caption


def _locked(panel: Panel) -> Panel:
    rows = Panel.objects.select_for_update(of=("self",)).select_related("job").defer("drawing")
    return rows.get(pk=panel.pk)


def _locked_photo(photo: Photo) -> Photo:
    rows = Photo.objects.select_for_update(of=("self",)).select_related("panel__job", "person", "account")
    found = rows.defer("panel__drawing").filter(pk=photo.pk).first()
    if found is None:
        raise Refused("That photo was taken back already.")
    return found


def _office_only(photo: Photo, by: Actor) -> Photo:
    if not by.is_office:
        raise Refused("Only the office and the lead can do that with a photo.")
    return _locked_photo(photo)
