"""Where a job is installed, who lets us in, and how one gets there."""

from datetime import datetime

from django.db import transaction

from jobs.models import Job

from .base import Actor, Refused, put, record
from .graph import lock_job

LONGEST = 2000


@transaction.atomic
def change_site(
    job: Job,
    *,
    site_address: str,
    site_contact: str,
    site_phone: str,
    site_access: str,
    by: Actor,
    at: datetime,
) -> Job:
    """The site of a job; all empty where it is not known. The plan does not depend on it."""
    if not by.is_office:
        raise Refused("Only the office says where a job goes.")
    job = lock_job(job)
    values = {
        "site_address": site_address.strip(),
        "site_contact": site_contact.strip(),
        "site_phone": site_phone.strip(),
        "site_access": site_access.strip(),
    }
    for name, most in (
        ("site_address", LONGEST),
        ("site_contact", 80),
        ("site_phone", 40),
        ("site_access", LONGEST),
    ):
        if len(values[name]) > most:
            raise Refused(f"At most {most} letters.", name)
    before, after = put(job, values)
    if after:
        job.save(update_fields=list(after))
        record("given its site", job, by=by, at=at, before=before, after=after)
    return job
