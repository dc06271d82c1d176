"""Tablets at the benches: let in by a code that lasts minutes, for a secret that lasts until it is revoked.

What waits to be sent on a tablet that was revoked stays on it: it is sent once the tablet is paired again, for the
same account.
"""

import secrets
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext_noop

from jobs.models import Account, Role, SignedIn, Station, Tablet
from jobs.models.customer_links import digest_of

from .base import Actor, Refused, record
from .groups import check_reach

# Without letters and digits that are taken for each other; eight of them are 40 bits of chance.
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
CODE_LENGTH = 8
CODE_LASTS = timedelta(minutes=10)
MOST_LETTERS = 60
WRONG = gettext_noop(
    "This code is not good, or not any more: it lasts ten minutes and pairs one tablet. Ask for a new one."
)


@transaction.atomic
def let_in(name: str, station: Station | None, *, by: Actor, at: datetime) -> tuple[Tablet, str]:
    """A tablet that may pair, and the code by which it does, which is nowhere kept. It acts for the account of its
    station; where there is none, one is made that nobody can sign in with."""
    name = " ".join(name.split())
    if not name or len(name) > MOST_LETTERS:
        raise Refused(f"A tablet needs a name of up to {MOST_LETTERS} letters.", "name")
    if Tablet.objects.filter(name__iexact=name).exists():
        raise Refused(f"There is a tablet “{name}” already: pair that one again.", "name")
    account = _account_of(station, by=by, at=at)
    check_reach(account, by=by)
    tablet = Tablet.objects.create(name=name, account=account, made_at=at)
    record("let in tablet", tablet, by=by, at=at, after={"name": name, "account": account.username})
    return tablet, _new_code(tablet, at)


@transaction.atomic
def code_again(tablet: Tablet, *, by: Actor, at: datetime) -> str:
    """Another code: the tablet was revoked, or lost its secret, or another one takes its place. Until it is used
    nothing changes."""
    tablet = _locked(tablet)
    check_reach(tablet.account, by=by)
    record("gave a code to tablet", tablet, by=by, at=at)
    return _new_code(tablet, at)


@transaction.atomic
def pair(code: str, *, at: datetime) -> tuple[Tablet, str]:
    """The tablet that the code lets in, and its secret, which is nowhere kept. The one before it is out."""
    typed = "".join(letter for letter in code.upper() if letter.isalnum())
    tablet = (
        Tablet.objects.select_for_update()
        .filter(code_digest=digest_of(typed), code_until__gt=at, account__is_active=True)
        .first()
        if typed
        else None
    )
    if tablet is None:
        raise Refused(WRONG, "code")
    SignedIn.objects.filter(tablet=tablet).delete()
    secret = secrets.token_urlsafe(32)
    tablet.secret_digest, tablet.code_digest, tablet.code_until = digest_of(secret), "", None
    tablet.paired_at, tablet.seen, tablet.revoked_at = at, at, None
    tablet.save(
        update_fields=["secret_digest", "code_digest", "code_until", "paired_at", "seen", "revoked_at"]
    )
    record("paired tablet", tablet, by=Actor(account=tablet.account), at=at)
    return tablet, secret


@transaction.atomic
def revoke(tablet: Tablet, *, by: Actor, at: datetime) -> None:
    """It is out at its next request, whatever it asks for, until it is paired again."""
    tablet = _locked(tablet)
    check_reach(tablet.account, by=by)
    if tablet.revoked_at is not None:
        raise Refused(f"{tablet.name} is revoked already.")
    tablet.revoked_at, tablet.secret_digest = at, None
    tablet.code_digest, tablet.code_until = "", None
    tablet.save(update_fields=["revoked_at", "secret_digest", "code_digest", "code_until"])
    SignedIn.objects.filter(tablet=tablet).delete()
    record(
        "revoked tablet", tablet, by=by, at=at, before={"paired at": tablet.paired_at, "seen": tablet.seen}
    )


def tablet_with(secret: str) -> Tablet | None:
    """The tablet that holds this secret and is let in."""
    if not secret:
        return None
    held = Tablet.objects.filter(secret_digest=digest_of(secret), revoked_at=None, account__is_active=True)
    return held.select_related("account").first()


def _account_of(station: Station | None, *, by: Actor, at: datetime) -> Account:
    of_station = Account.objects.filter(role=Role.BENCH, is_active=True, station=station)
    found = of_station.order_by("pk").first()
    if found is not None:
        return found
    wanted = f"{station.slug}-bench" if station else "any-bench"
    taken = set(Account.objects.filter(username__istartswith=wanted).values_list("username", flat=True))
    names = [wanted, *(f"{wanted}-{number}" for number in range(2, len(taken) + 3))]
    account = Account(
        username=next(name for name in names if name not in taken), role=Role.BENCH, station=station
    )
    account.set_unusable_password()
    account.save()
    record("made account", account, by=by, at=at, after={"username": account.username, "role": account.role})
    return account


def _new_code(tablet: Tablet, at: datetime) -> str:
    code = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
    tablet.code_digest, tablet.code_until = digest_of(code), at + CODE_LASTS
    tablet.save(update_fields=["code_digest", "code_until"])
    return code


def _locked(tablet: Tablet) -> Tablet:
    return Tablet.objects.select_for_update(of=("self",)).select_related("account").get(pk=tablet.pk)
