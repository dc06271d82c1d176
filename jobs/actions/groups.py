"""Groups of the studio's own: what they may, and who is in them. Every change is written down before and after."""

from collections.abc import Iterable
from datetime import datetime

from django.contrib.auth.models import Group
from django.db import transaction

from jobs.models import Account, May, Role
from jobs.models.permissions import granted_to, own_groups, permissions_named

from .base import Actor, Refused, record

MOST_LETTERS = 60


@transaction.atomic
def make_group(name: str, may: Iterable[str], *, by: Actor, at: datetime) -> Group:
    """A group that may what `may` names (values of May); refuses a name twice or of a role, and more than `by` may."""
    wanted = _checked(may, by)
    group = Group(name=_name(name, None))
    group.save()
    group.permissions.set(permissions_named(wanted))
    record("made group", group, by=by, at=at, after={"name": group.name, "may": sorted(wanted)})
    return group


@transaction.atomic
def change_group(group: Group, name: str, may: Iterable[str], *, by: Actor, at: datetime) -> Group:
    """Another name, or other permissions, from the next request of everybody in it."""
    group = _own(group)
    held = granted_to(group)
    wanted = _checked(may, by, besides=held)
    before, after = (
        {"name": group.name, "may": sorted(held)},
        {"name": _name(name, group), "may": sorted(wanted)},
    )
    if before == after:
        return group
    group.name = str(after["name"])
    group.save(update_fields=["name"])
    group.permissions.set(permissions_named(wanted))
    record("changed group", group, by=by, at=at, before=before, after=after)
    return group


@transaction.atomic
def remove_group(group: Group, *, by: Actor, at: datetime) -> None:
    """Nobody is in it any more, and nobody may what it gave."""
    group = _own(group)
    names = sorted(Account.objects.filter(groups=group).values_list("username", flat=True))
    before = {"name": group.name, "may": sorted(granted_to(group)), "accounts": names}
    record("removed group", group, by=by, at=at, before=before)
    group.delete()


@transaction.atomic
def put_in_groups(account: Account, groups: Iterable[Group], *, by: Actor, at: datetime) -> None:
    """The account is in these groups of the studio's own, and in no other of them."""
    account = Account.objects.select_for_update().get(pk=account.pk)
    wanted = {_own(group) for group in groups}
    held = set(own_groups().filter(user=account))
    for group in wanted - held:
        _checked(granted_to(group), by)
    if wanted == held:
        return
    account.groups.remove(*(held - wanted))
    account.groups.add(*(wanted - held))
    names = [sorted(group.name for group in some) for some in (held, wanted)]
    record(
        "changed groups of", account, by=by, at=at, before={"groups": names[0]}, after={"groups": names[1]}
    )


def check_reach(account: Account, *, by: Actor) -> None:
    """Nobody changes an account that may more than they may themselves: they would get all that it may."""
    if by.account is not None and not account.granted <= by.account.granted:
        raise Refused("This account may more than yours: only one that may as much can change it.")


def check_role(role: str, *, by: Actor) -> None:
    """Nobody gives a role that may more than they may."""
    group = Group.objects.filter(name=role).first()
    if group is not None:
        _checked(granted_to(group), by, field="role")


def _checked(
    may: Iterable[str], by: Actor, besides: frozenset[str] = frozenset(), field: str | None = None
) -> frozenset[str]:
    wanted = frozenset(may)
    unknown = wanted - set(May.values)
    if unknown:
        raise Refused(f"“{min(unknown)}” is nothing that can be allowed.", "may")
    if by.account is not None and not wanted - besides <= by.account.granted:
        raise Refused("Nobody gives others more than they may themselves.", field or "may")
    return wanted


def _own(group: Group) -> Group:
    row = Group.objects.select_for_update().filter(pk=group.pk).first()
    if row is None:
        raise Refused("This group is gone.")
    if row.name in Role.values:
        raise Refused(f"What the {row.name} may is the same everywhere: make a group of your own beside it.")
    return row


def _name(name: str, group: Group | None) -> str:
    name = " ".join(name.split())
    if not name or len(name) > MOST_LETTERS:
        raise Refused(f"A group needs a name of up to {MOST_LETTERS} letters.", "name")
    others = Group.objects.filter(name__iexact=name)
    if name.lower() in Role.values or (others.exclude(pk=group.pk) if group else others).exists():
        raise Refused(f"There is a group “{name}” already.", "name")
    return name
