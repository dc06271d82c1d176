"""What the job's page says of the customer's page: its link, who read it, and which drawings are approved."""

from typing import Any

from django.urls import reverse
from django.utils import timezone

from jobs.actions.customer_links import Shared, usual_last_day
from jobs.models import CustomerLink, GateKind, Job
from jobs.models.approvals import read_drawings
from jobs.views.middleware import StudioRequest


def current_link(job: Job) -> CustomerLink | None:
    """The link that is not revoked; it may have expired."""
    return job.customer_links.filter(revoked_at__isnull=True).select_related("made_by").first()


def link_initial(request: StudioRequest, job: Job) -> dict[str, Any]:
    link = current_link(job)
    shared = Shared.of(link) if link else Shared(usual_last_day(job, at=request.now))
    return shared.values()


def customer_part(request: StudioRequest, job: Job) -> dict[str, Any]:
    """Drawings are read only where the job waits for their approval, or has."""
    link = current_link(job)
    token = link.token if link else ""
    address = request.build_absolute_uri(reverse("customer-page", args=[token])) if token else ""
    return {
        "customer_link": link,
        "link_live": link is not None and link.is_live(timezone.localdate(request.now)),
        "link_address": address,
        "drawings": read_drawings(job) if job.gates.filter(kind=GateKind.DRAWING).exists() else None,
    }
