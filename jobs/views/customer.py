"""The customer's page: one job behind a secret link, its drawings to approve, its day and its papers."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe

from jobs.actions.approvals import Signed, approve_drawings
from jobs.actions.customer_links import note_read
from jobs.documents.customer_papers import customer_papers
from jobs.documents.day_event import calendar_file, day_event
from jobs.forms.customer import ApprovalForm, seen_text
from jobs.models import CustomerLink, Gate, Job, Photo, Projection, Promise, Stage
from jobs.models.approvals import Drawing, read_drawings
from jobs.models.changed_days import reason_told
from jobs.models.progress import Far, Step, Way, read_progress
from jobs.models.quote_words import QuoteWords
from jobs.views.by_link import by_link, nothing_here, picture_by_link
from jobs.views.customer_drawing import Picture, colors_of_glass, picture_of
from jobs.views.customer_quote import price_quote, quote_part, quoted_of
from jobs.views.customer_words import needed_of, standing
from jobs.views.middleware import StudioRequest
from jobs.views.photos import picture
from jobs.views.refusal import carried_out
from jobs.views.throttle import address_of

# The newest ones tell where the work is.
MOST_PHOTOS = 60


@dataclass(frozen=True, slots=True)
class Light:
    """One panel as the customer sees it."""

    way: Way
    drawing: Drawing
    picture: Picture
    steps: list[Step]
    asked: bool
    quoted: bool


@require_safe
@by_link
def customer_page(request: StudioRequest, link: CustomerLink) -> HttpResponse:
    if request.method == "GET" and "prefetch" not in request.headers.get("Sec-Purpose", ""):
        note_read(link, by=request.actor, at=request.now)
    return render(request, "customer/page.html", shown(request, link.job, link))


# No cookie signs anybody in here: who can make a browser send this form knows the secret address, and could send it
# without one. And a browser tells a page without referrers no origin, which Django's check would take for another's.
@require_http_methods(["GET", "POST"])
@csrf_exempt
@by_link
def customer_approve(request: StudioRequest, link: CustomerLink) -> HttpResponse:
    """Approve what was seen. A phone that opens this address again later, after a refusal, is shown the page."""
    form = ApprovalForm(request.POST)
    if request.method == "POST" and not carried_out(form, lambda: _approve(request, link, form.cleaned_data)):
        return render(request, "customer/page.html", shown(request, link.job, link, form), status=422)
    where = reverse("customer-page", args=[link.token])
    return HttpResponse(status=303, headers={"Location": f"{where}#drawings"})


def _approve(request: StudioRequest, link: CustomerLink, typed: Mapping[str, Any]) -> None:
    signed = Signed(
        typed["name"], typed["looked"], address_of(request) or None, request.headers.get("User-Agent", "")
    )
    approve_drawings(link, typed["seen"], signed, by=request.actor, at=request.now)


@require_safe
@by_link
def customer_day(request: StudioRequest, link: CustomerLink) -> HttpResponse:
    """The promised day for the customer's calendar."""
    job = link.job
    promise = _promise(job)
    if promise is None:
        return nothing_here(request)
    event = day_event(
        # The secret address stands in no calendar, which others may read.
        uid=f"promise-{link.digest[:24]}@studio",
        day=promise.day,
        summary=_("%(title)s, from %(studio)s") % {"title": job.title, "studio": request.studio.name},
        at=promise.given_at,
        description=_("The day we promised for commission %(number)s.") % {"number": job.number},
    )
    response = HttpResponse(calendar_file([event]), content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{job.number}.ics"'
    return response


@require_safe
@by_link
def customer_paper(request: StudioRequest, link: CustomerLink, slug: str) -> HttpResponse:
    papers = customer_papers(link.job, prices=link.shows_prices) if link.shows_papers else []
    paper = next((paper for paper in papers if paper.slug == slug), None)
    if paper is None:
        return nothing_here(request)
    # Papers are one for all who read them, in the studio's own language.
    with translation.override(settings.LANGUAGE_CODE):
        response = HttpResponse(paper.make(), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{link.job.number}-{slug}.pdf"'
    return response


@require_safe
@picture_by_link
def customer_photo(request: StudioRequest, link: CustomerLink, pk: int) -> HttpResponse:
    """A photo of this job that the studio shares; any other is as if there were none."""
    photo = Photo.objects.shared_of(link.job).filter(pk=pk).first()
    return nothing_here(request) if photo is None else picture(request, photo.file)


def _photos(job: Job, link: CustomerLink) -> list[tuple[Photo, str]]:
    """The photos that are shared, each with an address that opens for who has this link.

    A link that is not there yet shows them to the studio alone, which may see them anyway.
    """
    if link.pk and not link.token:
        return []
    rows = Photo.objects.shared_of(job).select_related("panel").defer("panel__drawing")
    return [
        (row, reverse("customer-photo", args=[link.token, row.pk]))
        if link.pk
        else (row, reverse("photo-picture", args=[row.pk]))
        for row in rows[:MOST_PHOTOS]
    ]


def _promise(job: Job) -> Promise | None:
    if job.stage in (Stage.CANCELLED, Stage.DECLINED):
        return None
    return Promise.objects.filter(job=job).order_by("-given_at", "-pk").first()


def shown(
    request: StudioRequest, job: Job, link: CustomerLink, form: ApprovalForm | None = None
) -> dict[str, Any]:
    """What the page says of a job to who has this link; also for the studio's preview."""
    progress = read_progress(job, request.now)
    drawings = read_drawings(job, [way.panel for way in progress.panels if way.panel])
    held = price_quote(job) if link.shows_prices or drawings.asked else None
    quote = held if link.shows_prices else None
    gates = list(job.gates.all())
    currency = QuoteWords.of(quote).currency if quote else ""
    needed = needed_of(job, gates, drawings, quote, currency)
    asked = {row.panel.pk for row in drawings.asked} if job.stage not in CLOSED else set()
    colors, told = colors_of_glass(), quoted_of(held)
    lights = [
        Light(
            way,
            row,
            picture_of(row.panel, colors),
            _steps(way, drawings.gate),
            row.panel.pk in asked,
            bool(row.digest) and told.drawings.get(str(row.panel.pk)) == row.digest,
        )
        for way, row in zip(progress.panels, drawings.rows, strict=True)
    ]
    closed = job.stage in CLOSED
    promise = _promise(job)
    return {
        "job": job,
        "link": link,
        "standing": standing(job, progress, needed),
        "closed": closed,
        "progress": progress,
        "whole": progress.whole.steps if progress.panels and not closed else [],
        "lights": lights,
        "asked": bool(asked),
        "quote_accepted": told.accepted,
        "drawings": drawings,
        "form": form or ApprovalForm(),
        # What is shown now is what the next tap approves, also where what was seen before is refused.
        "seen": seen_text({row.panel.number: row.digest for row in drawings.asked}),
        "needed": needed,
        "today": timezone.localdate(request.now),
        "promise": promise,
        "reason": reason_told(job, promise) if promise else "",
        **(quote_part(quote) if quote else {}),
        "photos": _photos(job, link),
        "papers": customer_papers(job, prices=link.shows_prices) if link.shows_papers else [],
        **_window(job, link, progress.ready == len(progress.panels)),
    }


CLOSED = (Stage.COMPLETE, Stage.CANCELLED, Stage.DECLINED)


def _steps(way: Way, gate: Gate | None) -> list[Step]:
    """The steps of a panel, with the approval of its drawing before the first that waits for it, until it is ready."""
    steps = [*way.steps, Step(_("Ready"), Far.DONE if way.ready else Far.NEXT)]
    if gate is not None:
        place = next((number for number, step in enumerate(steps) if step.approved), 0)
        steps.insert(place, Step(_("Drawing approved"), Far.DONE if gate.cleared else Far.NEXT))
    return steps


def _window(job: Job, link: CustomerLink, ready: bool) -> dict[str, date]:
    """The days by which it is ready with a chance of 50, 80 and 95 %, as the last plan had them."""
    projection = Projection.objects.filter(job=job).first()
    if projection is None or not (link.shows_window and job.is_open) or ready:
        return {}
    return {
        "half": timezone.localdate(projection.p50),
        "likely": timezone.localdate(projection.p80),
        "sure": timezone.localdate(projection.p95),
    }
