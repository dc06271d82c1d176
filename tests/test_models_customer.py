"""What the database itself keeps of customers' links and of what they approved."""

from datetime import date
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from jobs.models import Account, CustomerLink, DrawingApproval
from tests import cast
from tests.cast import at


def refuse(make: Any) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        make()


def make_link(number: str, by: Account, **values: Any) -> CustomerLink:
    job = cast.make_job(number)
    given = {"digest": number.zfill(64), "made_at": at(2), "made_by": by, "last_day": date(2026, 6, 1)}
    return CustomerLink.objects.create(job=job, **given | values)


def test_links(office: Account) -> None:
    make_link("0001", office)
    for number, wrong in enumerate(
        (
            {"digest": "0001".zfill(64)},
            {"revoked_at": at(3)},
            {"revoked_by": office},
            {"times_read": 1},
            {"first_read_at": at(3)},
            {"times_read": 2, "first_read_at": at(4), "last_read_at": at(3)},
        ),
        2,
    ):
        refuse(lambda number=number, wrong=wrong: make_link(f"{number:04d}", office, **wrong))
    make_link("0020", office, times_read=2, first_read_at=at(3), last_read_at=at(4))
    make_link("0021", office, revoked_at=at(3), revoked_by=office)


def test_one_link_of_a_job_is_open(office: Account) -> None:
    link = make_link("0001", office)
    again = {"job": link.job, "made_at": at(2), "made_by": office, "last_day": date(2026, 6, 1)}
    refuse(lambda: CustomerLink.objects.create(digest="2" * 64, **again))
    CustomerLink.objects.update(revoked_at=at(3), revoked_by=office)
    CustomerLink.objects.create(digest="2" * 64, **again)


def test_approvals(shop: None) -> None:
    panel = cast.make_panel(cast.make_job())
    given: dict[str, Any] = {"panel": panel, "digest": "1" * 64, "shown": {}, "name": "Anna", "at": at(2)}
    first = DrawingApproval.objects.create(**given)
    refuse(lambda: DrawingApproval.objects.create(**given))
    refuse(lambda: DrawingApproval.objects.create(**given | {"digest": "2" * 64, "name": ""}))
    DrawingApproval.objects.filter(pk=first.pk).update(withdrawn_at=at(3))
    DrawingApproval.objects.create(**given)
