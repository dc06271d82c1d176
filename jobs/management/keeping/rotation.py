"""Which backups are kept: the newest of each of the last days, weeks and months. Pure."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo
from pathlib import Path

_NAME = re.compile(r"studio-(\d{8}T\d{6})Z\.backup")


@dataclass(frozen=True)
class Keep:
    """How many days, weeks and months have a backup each; those without one are not counted."""

    daily: int = 7
    weekly: int = 5
    monthly: int = 12

    def __post_init__(self) -> None:
        if min(self.daily, self.weekly, self.monthly) < 0:
            raise ValueError("Less than no backup cannot be kept.")


def name_at(at: datetime) -> str:
    """The file name of a backup made then: sorted by name is sorted by time."""
    return f"studio-{at.astimezone(UTC):%Y%m%dT%H%M%S}Z.backup"


def made_at(path: Path) -> datetime | None:
    """When the backup of that name was made; None for any other file."""
    found = _NAME.fullmatch(path.name)
    if not found:
        return None
    try:
        return datetime.strptime(found[1], "%Y%m%dT%H%M%S").replace(tzinfo=UTC)
    except ValueError:
        return None


def backups_in(folder: Path) -> dict[datetime, Path]:
    """The whole backups in a folder by the time they were made, newest first; none where there is no such folder."""
    if not folder.is_dir():
        return {}
    found = {at: path for path in folder.iterdir() if (at := made_at(path)) and path.is_file()}
    return dict(sorted(found.items(), reverse=True))


def to_keep(times: Iterable[datetime], keep: Keep, zone: tzinfo) -> set[datetime]:
    """Of backups made at these times those that stay, by the studio's days; the newest of all always does."""
    newest_first = sorted(times, reverse=True)
    chosen = set(newest_first[:1])
    spans: list[tuple[int, Callable[[date], object]]] = [
        (keep.daily, lambda day: day),
        (keep.weekly, lambda day: day.isocalendar()[:2]),
        (keep.monthly, lambda day: (day.year, day.month)),
    ]
    for count, span in spans:
        newest: dict[object, datetime] = {}
        for at in newest_first:
            newest.setdefault(span(at.astimezone(zone).date()), at)
        chosen.update(list(newest.values())[:count])
    return chosen


def rotate(folder: Path, keep: Keep, zone: tzinfo) -> list[Path]:
    """Remove the backups in `folder` that need not stay; no other file is touched. What was removed."""
    found = backups_in(folder)
    stay = to_keep(found, keep, zone)
    gone = [path for at, path in found.items() if at not in stay]
    for path in gone:
        path.unlink()
    return gone
