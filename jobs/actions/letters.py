"""Which papers a job can have now: each refuses in words what it has nothing to say about."""

from collections.abc import Callable

from jobs.models import Job, Stage

from .base import Refused


def check_approval(job: Job) -> None:
    if not any(job.panels.values_list("drawing", flat=True)):
        raise Refused(f"No panel of {job.number} is drawn yet.")


def check_load(job: Job) -> None:
    if not job.panels.exists():
        raise Refused(f"Job {job.number} has no panel yet.")
    if job.stage in (Stage.CANCELLED, Stage.DECLINED):
        raise Refused(f"Job {job.number} is {job.get_stage_display()}: nothing of it is delivered.")


def check_complete(job: Job) -> None:
    if job.stage != Stage.COMPLETE:
        raise Refused(
            f"Job {job.number} is {job.get_stage_display()}: its letter is written when it is complete."
        )


CHECKS: dict[str, Callable[[Job], None]] = {
    "approval": check_approval,
    "delivery": check_load,
    "installation": check_load,
    "completion": check_complete,
}
