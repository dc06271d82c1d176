"""Which backups stay: days, weeks and months of the studio's clock. Common practice, no published source."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from jobs.management.keeping.rotation import Keep, backups_in, made_at, name_at, rotate, to_keep

ZONE = ZoneInfo("Europe/Vienna")
TONIGHT = datetime(2026, 3, 2, 2, 0, tzinfo=ZONE)


def nights(count: int) -> list[datetime]:
    return [TONIGHT - timedelta(days=day) for day in range(count)]


def test_three_years_of_nights_leave_days_weeks_and_months() -> None:
    stay = sorted(to_keep(nights(3 * 365), Keep(), ZONE), reverse=True)
    assert [f"{at:%m-%d}" for at in stay[:7]] == [
        "03-02",
        "03-01",
        "02-28",
        "02-27",
        "02-26",
        "02-25",
        "02-24",
    ]
    # Sundays before, which end a week, then the last nights of months; 1 March is kept as a day already.
    assert [f"{at:%m-%d}" for at in stay[7:11]] == ["02-22", "02-15", "02-08", "01-31"]
    assert [f"{at:%Y-%m-%d}" for at in stay[11:]] == [
        "2025-12-31",
        "2025-11-30",
        "2025-10-31",
        "2025-09-30",
        "2025-08-31",
        "2025-07-31",
        "2025-06-30",
        "2025-05-31",
        "2025-04-30",
    ]


def test_each_night_of_a_year_leaves_what_all_at_once_leave() -> None:
    """What was removed one night is not missed on a later one."""
    kept: set[datetime] = set()
    for night in reversed(nights(400)):
        kept = to_keep(kept | {night}, Keep(), ZONE)
    assert kept == to_keep(nights(400), Keep(), ZONE)


def test_days_are_those_of_the_studio() -> None:
    late = datetime(2026, 3, 1, 23, 30, tzinfo=UTC)  # The 2nd in Vienna.
    assert to_keep([late, TONIGHT], Keep(2, 0, 0), ZONE) == {TONIGHT}
    assert to_keep([late, TONIGHT], Keep(2, 0, 0), UTC) == {late, TONIGHT}
    before = datetime(2026, 3, 1, 22, 30, tzinfo=UTC)
    assert to_keep([before, TONIGHT], Keep(2, 0, 0), ZONE) == {before, TONIGHT}


def test_a_place_without_backups_for_a_while_keeps_the_old_ones() -> None:
    old = [at - timedelta(days=200) for at in nights(3)]
    assert to_keep([*old, TONIGHT], Keep(4, 0, 0), ZONE) == {*old, TONIGHT}


def test_the_newest_always_stays() -> None:
    assert to_keep(nights(9), Keep(0, 0, 0), ZONE) == {TONIGHT}
    assert to_keep([], Keep(), ZONE) == set()
    with pytest.raises(ValueError, match="Less than no backup"):
        Keep(daily=-1)


def test_only_backups_are_removed(tmp_path: Path) -> None:
    for at in nights(10):
        (tmp_path / name_at(at)).write_bytes(b"")
    others = ["notes.txt", "studio-20260101T000000Z.backup.old", ".studio-20260101T000000Z.backup.unfinished"]
    for name in [*others, "studio-20269901T000000Z.backup"]:
        (tmp_path / name).write_bytes(b"")
    gone = rotate(tmp_path, Keep(3, 0, 0), ZONE)
    assert len(gone) == 7
    assert list(backups_in(tmp_path)) == [at.astimezone(UTC) for at in nights(3)]
    assert {path.name for path in tmp_path.iterdir()} > set(others)
    assert made_at(tmp_path / name_at(TONIGHT)) == TONIGHT
    assert backups_in(tmp_path / "nowhere") == {}
