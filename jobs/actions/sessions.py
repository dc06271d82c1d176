"""Being signed in: each session ends by itself after a while, or when somebody says so."""

from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from jobs.models import Account, SignedIn

from .base import Actor, Refused, record
from .groups import check_reach


@transaction.atomic
def end_session(session: SignedIn, *, by: Actor, at: datetime) -> None:
    """Whoever is signed in with it is out at their next request. Of others only who keeps accounts ends it."""
    row = SignedIn.objects.select_for_update().select_related("account").filter(pk=session.pk).first()
    if row is None or row.account is None:
        raise Refused("That has ended already.")
    if row.tablet_id is not None:
        raise Refused("That is a tablet of a bench: it is revoked among the tablets.")
    if by.account != row.account:
        check_reach(row.account, by=by)
    record("signed out", row.account, by=by, at=at, before=_told(row))
    row.delete()


@transaction.atomic
def end_others(account: Account, keep: str, *, by: Actor, at: datetime) -> int:
    """All sessions of an account end but the one whose key is `keep`, and those of tablets; gives how many."""
    rows = list(_but(account, keep).select_for_update())
    for row in rows:
        record("signed out", account, by=by, at=at, before=_told(row))
    _but(account, keep).delete()
    return len(rows)


def drop_sessions(account: Account, keep: str = "") -> None:
    """What a new password or the end of an account has closed already is not listed any more."""
    _but(account, keep).delete()


def _but(account: Account, keep: str) -> QuerySet[SignedIn]:
    return SignedIn.objects.filter(account=account, tablet=None).exclude(pk=keep)


def _told(row: SignedIn) -> dict[str, object]:
    return {"device": row.device, "since": row.since, "from": row.address}
