"""Letters: the work is complete, and another day for it."""

from datetime import date

from jobs.models import Job, LetterSettings, Studio

from .render import pdf


def completion_letter(job: Job, *, studio: Studio, day: date) -> bytes:
    """The work is complete, with what was made and how to care for it."""
    panels = list(job.panels.order_by("number"))
    for panel in panels:
        panel.job = job
    context = {
        "job": job,
        "day": day,
        "finished": job.closed_at.astimezone(studio.zone).date() if job.closed_at else None,
        "panels": panels,
        "words": LetterSettings.current(),
    }
    return pdf(
        "documents/completion.html", context, studio=studio, title=f"Your work {job.number} is complete"
    )


def new_day_letter(job: Job, before: date, now: date, reason: str, *, studio: Studio, day: date) -> bytes:
    """Another day than `before` was promised: `now`, with the reason in plain words."""
    context = {
        "job": job,
        "day": day,
        "before": before,
        "now": now,
        "later": now > before,
        "reason": reason,
    }
    return pdf("documents/new_day.html", context, studio=studio, title=f"A new day for {job.number}")
