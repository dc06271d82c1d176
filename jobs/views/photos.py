"""Photos of panels: each one's page, its files for who may see them, and what the office does with it."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.db.models.fields.files import FieldFile
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.csp import CSP
from django.utils.translation import gettext as _
from django.views.decorators.csp import csp_override
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import Actor, photos
from jobs.actions.photos import photos_for
from jobs.forms.bench import TapForm
from jobs.forms.photos import CaptionForm, PhotoForm
from jobs.models import Photo, Station
from jobs.views import panel as panel_view
from jobs.views import tablet
from jobs.views.access import anyone_signed_in, office_only
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out
from jobs.views.tablet import SeeOther

HOUR = 3600


@require_safe
@anyone_signed_in
def photo(request: StudioRequest, pk: int) -> HttpResponse:
    return _page(request, _seen(request, pk))


@require_safe
@anyone_signed_in
def photo_picture(request: StudioRequest, pk: int) -> HttpResponse:
    return picture(request, _seen(request, pk).file)


@require_safe
@anyone_signed_in
def photo_small(request: StudioRequest, pk: int) -> HttpResponse:
    return picture(request, _seen(request, pk).small)


# It is shown and nothing else: whatever a browser might take it for, it may load and run nothing.
@csp_override({"default-src": [CSP.NONE]})
def picture(_request: StudioRequest, file: FieldFile) -> HttpResponse:
    """A kept picture, for its browser alone; 404 where the file is lost."""
    try:
        with file.open("rb") as kept:
            response = HttpResponse(kept.read(), content_type="image/jpeg")
    except OSError as error:
        raise Http404 from error
    response["Content-Disposition"] = 'inline; filename="photo.jpg"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = f"private, max-age={HOUR}"
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    return response


@require_POST
@office_only
def panel_photo(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    """A photo that the office adds."""
    row = panel_view.find_panel(number, panel)
    form = PhotoForm(request.POST, request.FILES, auto_id="photo-%s")

    def add() -> Photo:
        typed = form.cleaned_data
        who = {"by": request.actor, "at": request.now, "client_id": typed["client_id"]}
        return photos.add_photo(row, typed["file"], caption=typed["caption"], **who)

    if not carried_out(form, add):
        return panel_view.page(request, row, photo_form=form, status=422)
    messages.success(request, _("The photo is kept."))
    return SeeOther(f"{row.get_absolute_url()}#photos")


Do = Callable[[Photo, dict[str, Any], dict[str, Any]], object]
VERBS: dict[str, tuple[type[BaseForm], Do, str]] = {
    "share": (
        TapForm,
        lambda row, _, who: photos.share_photo(row, **who),
        "The customer sees the photo now.",
    ),
    "unshare": (
        TapForm,
        lambda row, _, who: photos.unshare_photo(row, **who),
        "The customer does not see it any more.",
    ),
    "caption": (
        CaptionForm,
        lambda row, typed, who: photos.caption_photo(row, typed["caption"], **who),
        "It is saved.",
    ),
}


@require_POST
@office_only
def photo_do(request: StudioRequest, pk: int, verb: str) -> HttpResponse:
    """Share a photo with the customer or no longer, or say what it shows."""
    if verb not in VERBS:
        raise Http404
    row = _seen(request, pk)
    kind, act, said = VERBS[verb]
    form: Any = kind(request.POST)
    who = {"by": request.actor, "at": request.now}
    if not carried_out(
        form, lambda: act(row, form.cleaned_data, who | {"client_id": form.cleaned_data["client_id"]})
    ):
        return _page(request, row, form, status=422)
    messages.success(request, said)
    if request.GET.get("from") == "photo":
        return SeeOther(row.get_absolute_url())
    return SeeOther(f"{row.panel.get_absolute_url()}#photos")


@require_POST
@anyone_signed_in
def photo_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    row = _seen(request, pk)
    form = TapForm(request.POST)
    where = _back(request, row)
    if not carried_out(
        form,
        lambda: photos.take_back_photo(
            row, by=_actor(request), at=request.now, client_id=form.cleaned_data["client_id"]
        ),
    ):
        return _page(request, row, form, status=422)
    messages.success(request, _("The photo is taken back."))
    return SeeOther(where)


def _seen(request: StudioRequest, pk: int) -> Photo:
    """The photo, if whoever asks may see it; else it is as if there were none."""
    return get_object_or_404(photos_for(request.actor), pk=pk)


def _actor(request: StudioRequest) -> Actor:
    """Who acts: at a tablet whoever tapped their name there."""
    person = None if request.actor.is_office else tablet.person_of(request)
    return tablet.actor(request, person) if person else request.actor


def _back(request: StudioRequest, row: Photo) -> str:
    """Where a photo was come from: a bench, or its panel."""
    station = Station.objects.filter(slug=request.GET.get("bench", ""), active=True).first()
    if station is not None and not request.user.is_office:
        return reverse("bench", args=[station.slug])
    return row.panel.get_absolute_url() + "#photos" if request.user.is_office else reverse("bench-choose")


def _page(
    request: StudioRequest, row: Photo, form: BaseForm | None = None, status: int = 200
) -> HttpResponse:
    typed = form if isinstance(form, CaptionForm) else None
    context = {
        "photo": row,
        "panel": row.panel,
        "job": row.panel.job,
        "form": typed or CaptionForm(initial={"caption": row.caption}),
        "refused": form,
        "back": _back(request, row),
        "bench": request.GET.get("bench", ""),
    }
    return render(request, "photo.html", context, status=status)
