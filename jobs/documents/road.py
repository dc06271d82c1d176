"""Papers that go with the work: the delivery note and the installation sheet."""

from datetime import date
from typing import Any

from jobs.models import Job, LetterSettings, OperationKind, Promise, Studio
from jobs.models.loads import loads_of

from .render import lay_out, write


def delivery_note(job: Job, *, studio: Studio, day: date) -> bytes:
    """What is handed over: every panel and crate with its mass and who carries it, and a line to sign."""
    return write(delivery_pages(job, studio=studio, day=day))


def delivery_pages(job: Job, *, studio: Studio, day: date) -> Any:
    """The delivery note laid out."""
    context = _context(job, day, "delivery")
    title = f"Delivery note {job.number}"
    return lay_out("documents/delivery.html", context, studio=studio, title=title)


def installation_sheet(job: Job, *, studio: Studio, day: date) -> bytes:
    """For who installs it: the site, sizes and masses, cautions, what to bring and what to check."""
    return write(installation_pages(job, studio=studio, day=day))


def installation_pages(job: Job, *, studio: Studio, day: date) -> Any:
    """The installation sheet laid out."""
    context = _context(job, day, "installation")
    title = f"Installation {job.number}"
    return lay_out("documents/installation.html", context, studio=studio, title=title)


def _context(job: Job, day: date, work: str) -> dict[str, Any]:
    last = Promise.objects.filter(job=job).order_by("-given_at", "-pk").first()
    cautions = OperationKind.objects.filter(slug=work).values_list("cautions", flat=True).first() or ""
    load = loads_of(job)
    for row in load.panels:
        row.panel.job = job
    return {
        "job": job,
        "day": day,
        "promised": last.day if last else None,
        "load": load,
        "words": LetterSettings.current(),
        "cautions": [line for line in cautions.splitlines() if line.strip()],
    }
