"""Calendars: the file that a secret address opens, and the set-up page that gives such addresses out."""

import hashlib
from datetime import UTC, date
from typing import Any

from django.contrib import messages
from django.db.models import Max, Q
from django.forms import Form, IntegerField
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.cache import get_conditional_response
from django.utils.http import http_date, quote_etag
from django.views.decorators.http import require_POST, require_safe

from jobs.actions.calendars import KEPT, bring_up_to_date, make_calendar_link, revoke_calendar_link
from jobs.documents.calendar import calendar_of
from jobs.models import CalendarEntry, CalendarLink, Person
from jobs.views.access import set_up_only
from jobs.views.by_link import opened_by
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out


@require_safe
@opened_by(lambda request, token: CalendarLink.opened_by(token))
def calendar_feed(request: StudioRequest, link: CalendarLink) -> HttpResponse:
    """Deliveries and installations: a person's own, or all of the studio with what is promised."""
    bring_up_to_date(at=request.now)
    first = request.now - KEPT
    day: date = first.astimezone(request.studio.zone).date()
    entries = CalendarEntry.objects.filter(Q(ends_at__gte=first) | Q(day__gte=day))
    name = request.studio.name
    if link.person is not None:
        entries = entries.filter(person=link.person)
        name = f"{link.person.name}, {name}"
    body = calendar_of(entries, name)
    etag = quote_etag(hashlib.sha256(body).hexdigest()[:32])
    changed = entries.aggregate(last=Max("changed_at"))["last"] or link.made_at
    modified = int(changed.astimezone(UTC).timestamp())
    response = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    response["ETag"], response["Last-Modified"] = etag, http_date(modified)
    # A calendar program keeps what it read and asks whether it is new.
    response["Cache-Control"] = "private, no-cache"
    return get_conditional_response(request, etag=etag, last_modified=modified, response=response) or response


class WhoseForm(Form):
    """Whose calendar: a person's id, nothing for the studio's."""

    person = IntegerField(required=False, min_value=1)


@require_safe
@set_up_only
def calendar_list(request: StudioRequest) -> HttpResponse:
    return _page(request)


def _page(request: StudioRequest, refused: Form | None = None) -> HttpResponse:
    links = {link.person_id: link for link in CalendarLink.objects.filter(revoked_at__isnull=True)}
    people = [None, *Person.objects.filter(active=True)]
    rows = []
    for person in people:
        link = links.get(person.pk if person else None)
        address = ""
        if link is not None and link.token:
            address = request.build_absolute_uri(reverse("calendar-feed", args=[link.token]))
        rows.append({"person": person, "link": link, "address": address})
    context = {"rows": rows, "form": refused}
    return render(request, "setup/calendars.html", context, status=422 if refused else 200)


VERBS = {
    "make": (make_calendar_link, "The address is made; copy it into the calendar."),
    "revoke": (revoke_calendar_link, "The address is revoked: it opens nothing any more."),
}


@require_POST
@set_up_only
def calendar_do(request: StudioRequest, verb: str) -> HttpResponse:
    """Make an address (anew), or revoke it."""
    if verb not in VERBS:
        raise Http404
    act, said = VERBS[verb]
    form = WhoseForm(request.POST)
    if not carried_out(form, lambda: act(_whose(form.cleaned_data), by=request.actor, at=request.now)):
        return _page(request, form)
    messages.success(request, said)
    return redirect("set-up-calendars")


def _whose(typed: dict[str, Any]) -> Person | None:
    number = typed["person"]
    return get_object_or_404(Person, pk=number) if number else None
