"""Papers of what leaves together: they need a job whose panels can be packed."""

from collections.abc import Callable
from functools import wraps

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect

from jobs.actions import Refused
from jobs.actions.letters import check_load
from jobs.models import Job
from jobs.views.job import find_job
from jobs.views.middleware import StudioRequest


def of_a_load(view: Callable[[StudioRequest, Job], HttpResponse]) -> Callable[..., HttpResponse]:
    """Give the view the job of this number; where nothing of it can be packed its page says why instead."""

    @wraps(view)
    def found(request: StudioRequest, number: str) -> HttpResponse:
        job = find_job(number)
        try:
            check_load(job)
        except Refused as refused:
            messages.error(request, refused.sentence)
            return redirect(job)
        return view(request, job)

    return found
