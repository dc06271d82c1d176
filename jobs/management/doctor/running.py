"""What runs: the database and its migrations, the worker, the clock, backups and mail."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Max
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from jobs.actions.plan import GOOD_FOR
from jobs.management.keeping.rotation import backups_in
from jobs.models import Account, Event, Mail, MailState, PlanState, Role, Studio
from jobs.models.append_only import is_armed

from .finding import Finding, note

# The worker renews dates within seconds of a change and when they are GOOD_FOR old.
PATIENCE = timedelta(minutes=15)
BACKUP_EVERY = timedelta(hours=36)
CLOCKS_DIFFER = timedelta(minutes=2)


def look_at_running(at: datetime) -> Iterator[Finding]:
    """Stops at a database that cannot be used: the rest would be a consequence of that."""
    try:
        damage = _damage()
        behind, ahead = _migrations()
    except DatabaseError as error:
        yield Finding(f"The database cannot be used: {str(error).strip()}. See DATABASE_URL and VAR_DIR.")
        return
    if damage:
        yield Finding(
            f"The database is damaged ({damage}): keep a copy of it, and restore the last good backup."
        )
        return
    if ahead:
        yield Finding(f"The database is of a newer version, which knows {ahead[-1]}: install that version.")
    if behind:
        yield Finding(
            f"The database is not of this version ({len(behind)} migrations): run manage.py migrate."
        )
    if ahead or behind:
        return
    if not is_armed(connection):
        yield Finding("The database would let what was recorded be altered: run manage.py migrate.")
    yield from _studio()
    yield from _worker(at)
    yield from _tasks(at)
    yield from _clock(at)
    yield from _backups(at)
    yield from _mail(at)


def _damage() -> str:
    connection.ensure_connection()
    if connection.vendor != "sqlite":
        return ""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA quick_check(1)")
        found = str(cursor.fetchone()[0])
        return "" if found == "ok" else found


def _migrations() -> tuple[list[str], list[str]]:
    """Those that are not applied, and those applied that this version does not know."""
    executor = MigrationExecutor(connection)
    loader = executor.loader
    plan = executor.migration_plan(loader.graph.leaf_nodes())
    behind = [f"{migration.app_label}.{migration.name}" for migration, _ in plan]
    known = loader.disk_migrations
    return behind, [f"{app}.{name}" for app, name in loader.applied_migrations if (app, name) not in known]


def _studio() -> Iterator[Finding]:
    if not Account.objects.filter(role=Role.LEAD, is_active=True).exists():
        yield Finding("Nobody can sign in as the lead: run manage.py set_up.")
    if not Studio.objects.exclude(time_zone="UTC").exists():
        yield note("The studio is on the clock of UTC: set its time zone under Set-up, if it is another.")


def _worker(at: datetime) -> Iterator[Finding]:
    state = PlanState.objects.first()
    if state is None or state.planned_at is None:
        yield Finding("No dates were ever made: start manage.py worker, and keep it running.")
        return
    age = at - state.planned_at
    if age >= GOOD_FOR + PATIENCE:
        yield Finding(
            f"The dates are {_span(age)} old: manage.py worker does not run, or fails; see its log."
        )


def _tasks(at: datetime) -> Iterator[Finding]:
    waiting = DBTaskResult.objects.ready().filter(enqueued_at__lt=at - PATIENCE).count()
    if waiting:
        yield Finding(f"Tasks that nobody takes: {waiting}. manage.py worker does them, and does not run.")


def _clock(at: datetime) -> Iterator[Finding]:
    later = at + CLOCKS_DIFFER
    written = Event.objects.aggregate(last=Max("at"))["last"]
    if written and written > later:
        yield Finding(
            f"The clock was set back, or was wrong before: it is {_time(at)}, and something was written down at "
            f"{_time(written)}. Set it (timedatectl set-ntp true)."
        )
    newest = max(
        (path for path in _files() if path.exists()), key=lambda path: path.stat().st_mtime, default=None
    )
    if newest and (changed := datetime.fromtimestamp(newest.stat().st_mtime, tz=at.tzinfo)) > later:
        yield Finding(
            f"The clock is behind: it is {_time(at)}, and {newest} was written at {_time(changed)}. Set it "
            "(timedatectl set-ntp true)."
        )
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT clock_timestamp()")
            theirs = cursor.fetchone()[0]
        if abs(theirs - timezone.now()) > CLOCKS_DIFFER:
            yield Finding("The clock of the database's computer differs from this one's: set both.")


def _files() -> list[Path]:
    found = [settings.BASE_DIR / "pyproject.toml", Path(settings.VAR_DIR) / "secret.key"]
    if connection.vendor == "sqlite":
        found.append(Path(str(connection.settings_dict["NAME"])))
    return found


def _backups(at: datetime) -> Iterator[Finding]:
    folder = Path(settings.BACKUP_DIR)
    newest = next(iter(backups_in(folder)), None)
    if newest is None:
        yield Finding(f"There is no backup in {folder}: run manage.py backup every night.")
    elif at - newest > BACKUP_EVERY:
        yield Finding(
            f"The last backup in {folder} is {_span(at - newest)} old: see why the nightly one does not run."
        )


def _mail(at: datetime) -> Iterator[Finding]:
    failed = Mail.objects.filter(state=MailState.FAILED, next_try_at=None).count()
    if failed:
        yield Finding(
            f"Mail that could not be sent: {failed}. See why under Mail, and try again or take it back."
        )
    unknown = Mail.objects.filter(state=MailState.UNKNOWN).count()
    if unknown:
        yield Finding(f"Mail of which nobody knows whether it went: {unknown}. Ask, and say so under Mail.")
    late = Mail.objects.filter(
        state__in=[MailState.WAITING, MailState.FAILED], next_try_at__lt=at - PATIENCE
    ).count()
    if late:
        yield Finding(
            f"Mail that waits and is not tried: {late}. manage.py worker sends it, and does not run."
        )


def _span(age: timedelta) -> str:
    hours = age.total_seconds() / 3600
    return f"{hours:.0f} hours" if hours < 48 else f"{hours / 24:.0f} days"


def _time(at: datetime) -> str:
    return f"{timezone.localtime(at):%Y-%m-%d %H:%M}"
