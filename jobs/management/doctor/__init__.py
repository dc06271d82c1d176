"""What is wrong with an installation, in sentences that say what to do. `manage.py doctor` prints them."""

from collections.abc import Iterator
from datetime import datetime

from .finding import Finding
from .place import look_at_place
from .running import look_at_running
from .settings import look_at_settings

__all__ = ["Finding", "examine"]


def examine(*, at: datetime) -> Iterator[Finding]:
    """All that is found, in the order in which it is best mended: settings, the computer, what runs on it."""
    yield from look_at_settings()
    yield from look_at_place()
    yield from look_at_running(at)
