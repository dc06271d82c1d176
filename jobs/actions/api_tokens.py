"""Tokens for other programs: made and revoked by who keeps accounts, and that one was used."""

from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import Q

from jobs.models import ApiToken, May
from jobs.models.api_tokens import Scope, new_token
from jobs.models.customer_links import digest_of

from .base import Actor, Refused, record
from .customer_links import today_of

USUAL = timedelta(days=365)
LONGEST = timedelta(days=366 * 2)
# To write down each use would cost each a write.
USED_WITHIN = timedelta(minutes=1)


def _check_keeper(by: Actor) -> None:
    if not by.may(May.KEEP_ACCOUNTS):
        raise Refused("Only who keeps accounts gives tokens to other programs.")


@transaction.atomic
def make_token(name: str, scope: str, last_day: date, *, by: Actor, at: datetime) -> tuple[ApiToken, str]:
    """A token, and what the other program has to show: that is told here and never again."""
    _check_keeper(by)
    assert by.account is not None
    name, today = " ".join(name.split()), today_of(at)
    if not name or len(name) > 60:
        raise Refused("Say in at most 60 letters what uses the token.", "name")
    if scope not in Scope.values:
        raise Refused("Choose what it may read.", "scope")
    if last_day < today:
        raise Refused("That day is over.", "last_day")
    if last_day > today + LONGEST:
        raise Refused("A token reads for two years at most.", "last_day")
    token = new_token()
    row = ApiToken.objects.create(
        name=name, scope=scope, digest=digest_of(token), made_at=at, made_by=by.account, last_day=last_day
    )
    record("made", row, by=by, at=at, after={"name": name, "scope": scope, "last_day": last_day})
    return row, token


@transaction.atomic
def revoke_token(row: ApiToken, *, by: Actor, at: datetime) -> ApiToken:
    """From this minute it reads nothing, for ever."""
    _check_keeper(by)
    row = ApiToken.objects.select_for_update().get(pk=row.pk)
    if row.revoked_at is not None:
        raise Refused(f"The token of {row.name} is revoked already.")
    row.revoked_at, row.revoked_by = at, by.account
    row.save(update_fields=["revoked_at", "revoked_by"])
    record("revoked", row, by=by, at=at, before={"name": row.name, "last_day": row.last_day})
    return row


def note_used(row: ApiToken, *, at: datetime) -> None:
    """It was used. Not an Event: it changes nothing, and would renew every screen of the floor."""
    earlier = at - USED_WITHIN
    if row.last_used_at is None or row.last_used_at < earlier:
        unused = Q(last_used_at__isnull=True) | Q(last_used_at__lt=earlier)
        ApiToken.objects.filter(unused, pk=row.pk).update(last_used_at=at)
