"""A commission, the link to its page, and somebody who opens it."""

import pytest
from django.test import Client

from jobs.models import Account, CustomerLink, Job
from tests import customers


@pytest.fixture
def job(shop: None) -> Job:
    return customers.make_commission()


@pytest.fixture
def link(job: Job, office: Account) -> CustomerLink:
    return customers.make_customer_link(job, office)


@pytest.fixture
def visitor() -> Client:
    """Somebody without an account, whose forms are checked as they are outside the tests."""
    return Client(enforce_csrf_checks=True)
