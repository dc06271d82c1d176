"""Which workshop a page is about: that of whoever is bound to one, else the one that the address names, else all.

A studio with one workshop never gets past the first line of each.
"""

from django.http import Http404, HttpRequest, QueryDict

from jobs.models import Account, Workshop
from jobs.models.scope import bound_to
from jobs.models.workshops import read_workshops
from jobs.views.middleware import StudioRequest

ASKED = "workshop"


def workshops_of(request: StudioRequest) -> list[Workshop]:
    """The workshops that the reader may choose among: none where there is only one, the own one alone of whoever is
    bound to it."""
    if not request.studio.has_several_workshops or not isinstance(request.user, Account):
        return []
    kept: list[Workshop] | None = request.__dict__.get("_workshops")
    if kept is None:
        own = bound_to(request.user)
        kept = [row for row in read_workshops() if own in (None, row.pk)]
        request.__dict__["_workshops"] = kept
    return kept


def workshop_of(request: StudioRequest) -> Workshop | None:
    """The workshop that the page is about, None for all; Http404 where the address names none of the reader's."""
    rows = workshops_of(request)
    if len(rows) == 1:
        return rows[0]
    asked = request.GET.get(ASKED)
    if not rows or not asked:
        return None
    for row in rows:
        if row.slug == asked:
            return row
    raise Http404


def workshop_key(request: StudioRequest) -> int | None:
    """The same by id, for `scope`."""
    found = workshop_of(request)
    return None if found is None else found.pk


def typed_in(request: StudioRequest) -> QueryDict | None:
    """What the address says beside the workshop, for forms that are sent by GET; None where that is nothing."""
    typed = request.GET.copy()
    typed.pop(ASKED, None)
    return typed or None


def shown(request: HttpRequest) -> dict[str, object]:
    """For every template: what can be chosen, what the page is about, and what keeps it in an address."""
    studio = getattr(request, "studio", None)
    if studio is None or not studio.has_several_workshops or not hasattr(request, "user"):
        return {}
    rows = workshops_of(request)  # type: ignore[arg-type]
    asked = request.GET.get(ASKED)
    chosen = next((row for row in rows if len(rows) == 1 or row.slug == asked), None)
    several = rows if len(rows) > 1 else []
    kept = f"?{ASKED}={chosen.slug}" if several and chosen else ""
    return {"workshops": several, "workshop": chosen, "at_workshop": kept}
