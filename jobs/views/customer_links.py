"""The studio's side of a customer's page: its link, what the customer sees, and which drawing was approved."""

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import customer_links
from jobs.actions.customer_links import Shared, usual_last_day
from jobs.forms.customer import LinkForm
from jobs.forms.jobs import EmptyForm
from jobs.models import CustomerLink, DrawingApproval, Panel
from jobs.models.approvals import hash_of, shown_of
from jobs.views.access import office_only
from jobs.views.by_link import closed_to
from jobs.views.customer import shown
from jobs.views.customer_drawing import colors_of_glass, picture_of
from jobs.views.customer_part import current_link
from jobs.views.job import find_job, page
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out

SAID = {
    "make": "The link is made; copy it into a message to the customer.",
    "change": "The link is changed.",
    "renew": "The link is made anew; the one before opens nothing any more.",
    "revoke": "The link is revoked: it opens nothing any more.",
}
TYPED = {"make": customer_links.make_link, "change": customer_links.change_link}
TAPPED = {"renew": customer_links.renew_link, "revoke": customer_links.revoke_link}


@require_POST
@office_only
def link_do(request: StudioRequest, number: str, verb: str) -> HttpResponse:
    """Make, change, revoke a link or make it anew."""
    row = find_job(number)
    who: dict[str, Any] = {"by": request.actor, "at": request.now}
    if verb in TYPED:
        form: BaseForm = LinkForm(request.POST)
        done = carried_out(form, lambda: TYPED[verb](row, Shared(**form.cleaned_data), **who))
    elif verb in TAPPED:
        form = EmptyForm(request.POST)
        done = carried_out(form, lambda: TAPPED[verb](row, **who))
    else:
        raise Http404
    if not done:
        edit = "link" if verb in TYPED else "refused-link"
        return page(request, row, edit=edit, form=form, status=422)
    messages.success(request, SAID[verb])
    return HttpResponse(status=303, headers={"Location": f"{row.get_absolute_url()}#customers-page"})


@require_safe
@office_only
def link_preview(request: StudioRequest, number: str) -> HttpResponse:
    """The page as the customer sees it, or would see it with what is shared as a rule."""
    row = find_job(number)
    link = current_link(row)
    if link is None or not link.is_live(timezone.localdate(request.now)):
        shared = Shared.of(link) if link else Shared(usual_last_day(row, at=request.now))
        link = CustomerLink(job=row, **shared.values())
    context = shown(request, row, link) | {"preview": True}
    return closed_to(render(request, "customer/page.html", context))


@require_safe
@office_only
def approval(request: StudioRequest, number: str, pk: int) -> HttpResponse:
    """A drawing exactly as it was approved, whatever it is by now."""
    row = find_job(number)
    approvals = DrawingApproval.objects.select_related("panel", "pattern").filter(panel__job=row)
    found = get_object_or_404(approvals, pk=pk)
    panel = found.panel
    now = hash_of(shown_of(panel))
    approved = Panel(
        name=panel.name, **{key: found.shown[key] for key in ("copies", "drawing")}, **_sizes(found.shown)
    )
    context = {
        "job": row,
        "approval": found,
        "panel": panel,
        "approved": approved,
        "picture": picture_of(approved, colors_of_glass()),
        "same": now == found.digest,
    }
    return render(request, "job_approval.html", context)


def _sizes(shown: dict[str, Any]) -> dict[str, Decimal]:
    return {name: Decimal(shown[name]) for name in ("width_mm", "height_mm", "thickness_mm")}
