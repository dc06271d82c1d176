"""What roles and groups may, and that no change of it goes by unwritten."""

from decimal import Decimal

import pytest
from django.contrib.auth.models import Group
from django.core.management import call_command

from jobs.actions import Actor, Refused, accounts, groups, rates
from jobs.models import Account, Event, May, OperationKind, Role
from jobs.models.permissions import STANDARD, granted_to, own_groups
from tests import cast

NOW = cast.at(2)


@pytest.fixture
def by(lead: Account) -> Actor:
    return Actor(account=lead)


@pytest.fixture
def setters(by: Actor) -> Group:
    return groups.make_group("Office with rates", [May.SET_RATES], by=by, at=NOW)


def anew(account: Account) -> Account:
    return Account.objects.get(pk=account.pk)


@pytest.mark.parametrize("role", Role)
def test_a_role_is_a_group_and_may_what_the_table_says(shop: None, role: Role) -> None:
    account = cast.make_account("somebody", role)
    assert [group.name for group in account.groups.all()] == [role.value]
    assert account.granted == STANDARD[role]
    assert {may for may in May if account.has_perm(f"jobs.{may}")} == STANDARD[role]


def test_another_role_is_another_group_and_keeps_the_studios_own(
    by: Actor, office: Account, setters: Group
) -> None:
    groups.put_in_groups(office, [setters], by=by, at=NOW)
    accounts.change_account(office, {"role": Role.BENCH}, by=by, at=NOW)
    assert anew(office).granted == {May.WORK_AT_BENCH, May.SET_RATES}


def test_migrating_puts_the_groups_of_roles_in_step_and_leaves_the_others(
    office: Account, setters: Group
) -> None:
    role = Group.objects.get(name="office")
    role.permissions.set(setters.permissions.all())
    Group.objects.get(name="bench").permissions.clear()
    call_command("migrate", verbosity=0)
    assert granted_to(role) == STANDARD[Role.OFFICE]
    assert granted_to(Group.objects.get(name="bench")) == STANDARD[Role.BENCH]
    assert granted_to(setters) == {May.SET_RATES}


def test_who_is_in_a_group_may_what_it_says_and_nothing_else(
    by: Actor, office: Account, setters: Group
) -> None:
    kind = OperationKind.objects.get(name="Cutting")
    with pytest.raises(Refused, match="Only the lead changes the rates"):
        rates.set_setup(kind, minutes=Decimal(5), by=Actor(account=office), at=NOW)
    groups.put_in_groups(office, [setters], by=by, at=NOW)
    assert anew(office).granted == {May.RUN_OFFICE, May.SET_RATES}
    rates.set_setup(kind, minutes=Decimal(5), by=Actor(account=anew(office)), at=NOW)
    groups.put_in_groups(office, [], by=by, at=NOW)
    with pytest.raises(Refused, match="Only the lead changes the rates"):
        rates.set_setup(kind, minutes=Decimal(6), by=Actor(account=anew(office)), at=NOW)


def test_every_change_says_who_when_and_from_what_to_what(
    by: Actor, lead: Account, office: Account, setters: Group
) -> None:
    groups.change_group(setters, "Costs", [May.SEE_COSTS], by=by, at=NOW)
    groups.put_in_groups(office, [setters], by=by, at=NOW)
    groups.put_in_groups(office, [setters], by=by, at=NOW)
    groups.remove_group(setters, by=by, at=NOW)
    events = list(Event.objects.order_by("pk"))
    assert {(event.account, event.at) for event in events} == {(lead, NOW)}
    assert [(event.verb, event.before, event.after) for event in events] == [
        ("made group", {}, {"name": "Office with rates", "may": ["set_rates"]}),
        (
            "changed group",
            {"name": "Office with rates", "may": ["set_rates"]},
            {"name": "Costs", "may": ["see_costs"]},
        ),
        ("changed groups of", {"groups": []}, {"groups": ["Costs"]}),
        ("removed group", {"name": "Costs", "may": ["see_costs"], "accounts": ["office"]}, {}),
    ]
    assert not own_groups().exists()


@pytest.mark.parametrize(
    ("name", "may", "sentence"),
    [
        ("  ", [May.SET_RATES], "needs a name"),
        ("Lead", [May.SET_RATES], "a group “Lead” already"),
        ("office WITH rates", [May.SET_RATES], "already"),
        ("Other", ["fly"], "“fly” is nothing that can be allowed"),
    ],
)
def test_a_bad_group_is_refused(by: Actor, setters: Group, name: str, may: list[str], sentence: str) -> None:
    with pytest.raises(Refused, match=sentence):
        groups.make_group(name, may, by=by, at=NOW)


def test_the_group_of_a_role_is_nobodys_to_change(by: Actor, office: Account) -> None:
    role = Group.objects.get(name="office")
    for act in (
        lambda: groups.change_group(role, "Desk", [May.SET_RATES], by=by, at=NOW),
        lambda: groups.remove_group(role, by=by, at=NOW),
        lambda: groups.put_in_groups(office, [role], by=by, at=NOW),
    ):
        with pytest.raises(Refused, match="make a group of your own"):
            act()


def test_a_group_that_is_gone_is_refused(by: Actor, setters: Group) -> None:
    Group.objects.filter(pk=setters.pk).delete()
    with pytest.raises(Refused, match="This group is gone"):
        groups.change_group(setters, "Other", [May.SET_RATES], by=by, at=NOW)


def test_nobody_gives_more_than_they_may_or_changes_whoever_may_more(
    by: Actor, lead: Account, office: Account
) -> None:
    keepers = groups.make_group("Keepers", [May.KEEP_ACCOUNTS], by=by, at=NOW)
    groups.put_in_groups(office, [keepers], by=by, at=NOW)
    keeper = Actor(account=anew(office))
    for act in (
        lambda: groups.make_group("All", [May.SET_RATES], by=keeper, at=NOW),
        lambda: groups.change_group(keepers, "Keepers", [May.KEEP_ACCOUNTS, May.SET_UP], by=keeper, at=NOW),
        lambda: accounts.make_account(
            {"username": "n", "role": Role.LEAD}, "cobalt and amber", by=keeper, at=NOW
        ),
        lambda: accounts.change_account(office, {"role": Role.LEAD}, by=keeper, at=NOW),
    ):
        with pytest.raises(Refused, match="Nobody gives others more"):
            act()
    for act in (
        lambda: accounts.set_password(lead, "cobalt and amber", by=keeper, at=NOW),
        lambda: accounts.end_account(lead, by=keeper, at=NOW),
        lambda: accounts.change_account(lead, {"username": "other"}, by=keeper, at=NOW),
    ):
        with pytest.raises(Refused, match="may more than yours"):
            act()
