"""What an account may do: permissions as rows of Django's own tables, in groups.

`STANDARD` is the one place that says what the three roles may. Their groups are put in step with it after each
`migrate`; a studio adds groups of its own beside them, which are nobody's but its own.
"""

from typing import Any

from django.apps import apps
from django.contrib.auth.models import Group, Permission
from django.db import connections
from django.db.models import OuterRef, QuerySet, StringAgg, Subquery, Value

from .accounts import Account, May, Role

STANDARD: dict[Role, frozenset[May]] = {
    Role.LEAD: frozenset(May),
    Role.OFFICE: frozenset({May.RUN_OFFICE}),
    Role.BENCH: frozenset({May.WORK_AT_BENCH}),
}


def roles_that(may: May | None) -> frozenset[Role]:
    """The roles that have a permission by themselves; all of them where none is asked for."""
    return frozenset(role for role, granted in STANDARD.items() if may is None or may in granted)


def granted_to(group: Group) -> frozenset[str]:
    """The names of what a group may, of those that are ours."""
    return frozenset(_ours().filter(group=group).values_list("codename", flat=True))


def permissions_named(names: frozenset[str]) -> QuerySet[Permission]:
    return _ours().filter(codename__in=names)


def own_groups() -> QuerySet[Group]:
    """The groups that the studio has made itself."""
    return Group.objects.exclude(name__in=Role.values).order_by("name")


def with_granted(accounts: QuerySet[Account]) -> QuerySet[Account]:
    """The accounts with what they may do (Account.granted), read in the same query."""
    words = (
        _ours()
        .filter(group__user=OuterRef("pk"))
        .order_by()
        .values("content_type")
        .annotate(words=StringAgg("codename", Value(" ")))
        .values("words")
    )
    return accounts.annotate(granted_words=Subquery(words))


def _ours() -> QuerySet[Permission]:
    return Permission.objects.filter(
        content_type__app_label="jobs", content_type__model="account", codename__in=May.values
    )


def put_in_group_of_role(account: Account) -> None:
    """Make the account a member of its role's group, and of no other role's."""
    groups = [Group.objects.get_or_create(name=account.role)[0]]
    others = account.groups.filter(name__in=Role.values).exclude(pk=groups[0].pk)
    account.groups.remove(*others)
    account.groups.add(*groups)


def follow_role(instance: Account, *, raw: bool, **about: Any) -> None:
    """A receiver of `post_save`: whoever gets a role gets into its group. Rows that are loaded bring their own."""
    fields = about["update_fields"]
    if not raw and (about["created"] or fields is None or "role" in fields):
        put_in_group_of_role(instance)


def keep_in_step(*, using: str, **_: Any) -> None:
    """A receiver of `post_migrate`: the roles' groups may what STANDARD says, no more and no less."""
    from django.contrib.auth.management import create_permissions

    needed = {Account._meta.db_table, Group._meta.db_table, Group.permissions.through._meta.db_table}
    if not needed <= set(connections[using].introspection.table_names()):
        return
    create_permissions(apps.get_app_config("jobs"), verbosity=0, using=using)
    for role, granted in STANDARD.items():
        group = Group.objects.using(using).get_or_create(name=role)[0]
        group.permissions.set(_ours().using(using).filter(codename__in=granted))
