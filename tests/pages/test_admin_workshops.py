"""Kinds of work in the admin, where there is more than one workshop."""

import pytest
from django.test import Client
from django.urls import reverse

from jobs.models import OperationKind, Station
from tests import cast
from tests.workshops import make_second

pytestmark = pytest.mark.usefixtures("shop")


def page_of(kind: OperationKind) -> str:
    return reverse("admin:jobs_operationkind_change", args=[kind.pk])


def test_with_one_workshop_nothing_is_asked(lead_client: Client) -> None:
    page = lead_client.get(page_of(OperationKind.objects.get(name="Cutting"))).content.decode()
    assert "in another workshop" not in page


def test_with_two_it_says_which_work_is_the_same(lead_client: Client) -> None:
    make_second()
    kind = OperationKind.objects.get(name="Cutting Mill Street")
    assert "in another workshop" in lead_client.get(page_of(kind)).content.decode()


def test_work_that_jobs_have_stays_in_its_workshop(lead_client: Client) -> None:
    make_second()
    cast.make_panel(cast.make_job(), kinds=("Blasting",))
    kind = OperationKind.objects.get(name="Blasting")
    there = Station.objects.get(slug="cutting-mill-street")
    typed = {
        "name": kind.name,
        "slug": kind.slug,
        "place": 3,
        "station": there.pk,
        "nature": "attended",
        "crew": 1,
    }
    answer = lead_client.post(page_of(kind), typed)
    assert "Jobs of Lakeside have this work" in answer.content.decode()
    kind.refresh_from_db()
    assert kind.station == Station.objects.get(name="Blasting")
