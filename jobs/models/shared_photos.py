"""The photos of a job that the studio chose to share with its customer."""

from dataclasses import dataclass
from datetime import date

from .orders import Job


@dataclass(frozen=True, slots=True)
class SharedPhoto:
    """`url` has to open for who has the job's link alone; `words` say what is on it."""

    url: str
    words: str
    taken: date | None


def shared_photos(job: Job) -> list[SharedPhoto]:  # noqa: ARG001
    """The newest first. The studio keeps no photos yet, so that there are none to share."""
    return []
