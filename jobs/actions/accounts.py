"""Who may sign in: the lead, the office, and the tablet of each station."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from jobs.models import Account, Role

from .base import Actor, Refused, changes, record
from .groups import check_reach, check_role
from .sessions import drop_sessions

# A password is never written down, not even hashed: the Event says only that it changed.
FIELDS = ("username", "first_name", "last_name", "role", "station", "person", "workshop")


@transaction.atomic
def make_account(values: Mapping[str, Any], password: str, *, by: Actor, at: datetime) -> Account:
    """An account of `values` (those of FIELDS that are given); refuses a name twice and a weak password."""
    account = Account(**_of(values))
    check_role(account.role, by=by)
    _check_name(account)
    _check_password(password, account)
    _derive(account)
    account.set_password(password)
    account.save()
    record("made account", account, by=by, at=at, after=_of(values))
    return account


@transaction.atomic
def change_account(account: Account, values: Mapping[str, Any], *, by: Actor, at: datetime) -> Account:
    """Change what FIELDS say; refuses to leave the studio without a lead, and a name twice."""
    account = _locked(account)
    check_reach(account, by=by)
    before, after = changes(account, _of(values))
    if not after:
        return account
    if "role" in after:
        check_role(after["role"], by=by)
    for name, value in after.items():
        setattr(account, name, value)
    _check_name(account)
    _derive(account)
    if account.role != Role.LEAD or account.workshop_id is not None:
        _check_another_lead(account)
    account.save(update_fields=[*FIELDS, "is_staff"])
    record("changed account", account, by=by, at=at, before=before, after=after)
    return account


@transaction.atomic
def end_account(account: Account, *, by: Actor, at: datetime) -> Account:
    """Nobody signs in with it any more, from this minute; what it did stays written."""
    account = _locked(account)
    check_reach(account, by=by)
    if not account.is_active:
        raise Refused(f"The account {account.username} has ended already.")
    _check_another_lead(account)
    account.is_active = False
    account.save(update_fields=["is_active"])
    drop_sessions(account)
    record("ended account", account, by=by, at=at, before={"active": True}, after={"active": False})
    return account


@transaction.atomic
def reopen_account(account: Account, *, by: Actor, at: datetime) -> Account:
    account = _locked(account)
    check_reach(account, by=by)
    if account.is_active:
        raise Refused(f"The account {account.username} is open already.")
    account.is_active = True
    account.save(update_fields=["is_active"])
    record("reopened account", account, by=by, at=at, before={"active": False}, after={"active": True})
    return account


@transaction.atomic
def set_password(account: Account, password: str, *, by: Actor, at: datetime, keep: str = "") -> Account:
    """A new password; whoever is signed in with the old one has to sign in again, but for paired tablets and the
    session whose key is `keep`."""
    account = _locked(account)
    check_reach(account, by=by)
    _check_password(password, account)
    account.set_password(password)
    account.save(update_fields=["password"])
    drop_sessions(account, keep)
    record("set password of", account, by=by, at=at)
    return account


def _of(values: Mapping[str, Any]) -> dict[str, Any]:
    found = {name: values[name] for name in FIELDS if name in values}
    if found.get("role", Role.BENCH) != Role.BENCH:
        found["station"] = None  # Only a bench account is the tablet of a station.
    return found


def _locked(account: Account) -> Account:
    return Account.objects.select_for_update().get(pk=account.pk)


def _derive(account: Account) -> None:
    """Only the lead of the whole studio gets to Django's admin. A tablet is of the workshop of its station."""
    if account.station is not None:
        account.workshop = None
    account.is_staff = account.role == Role.LEAD and account.workshop_id is None


def _check_name(account: Account) -> None:
    if not account.username.strip():
        raise Refused("An account needs a name to sign in with.", "username")
    others = Account.objects.filter(username__iexact=account.username).exclude(pk=account.pk)
    if others.exists():
        raise Refused(f"There is an account “{account.username}” already.", "username")


def _check_password(password: str, account: Account) -> None:
    try:
        validate_password(password, account)
    except ValidationError as error:
        raise Refused(" ".join(error.messages), "password") from error


def _check_another_lead(account: Account) -> None:
    # All leads are locked, in one order, so that two of them cannot end each other at once.
    leads = Account.objects.select_for_update().filter(role=Role.LEAD, is_active=True, workshop=None)
    if {lead.pk for lead in leads.order_by("pk")} == {account.pk}:
        raise Refused(
            "This is the last account of a lead: make another first, or nobody could set up the studio."
        )
