"""Tokens, and what is asked with them."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.api_tokens import make_token
from jobs.models import Account

Ask = Callable[..., Any]


def token_for(lead: Account, scope: str = "floor") -> str:
    now = timezone.now()
    return make_token(scope, scope, now.date() + timedelta(days=30), by=Actor(account=lead), at=now)[1]


@pytest.fixture
def token(lead: Account) -> str:
    return token_for(lead)


@pytest.fixture
def office_token(lead: Account) -> str:
    return token_for(lead, "office")


@pytest.fixture
def ask(client: Client, token: str) -> Ask:
    """`ask("jobs", limit=2)` gives the answer to what a program asks with its token."""

    def answered(path: str, shown: str = token, **asked: Any) -> Any:
        return client.get(f"/api/v1/{path}", asked, headers={"Authorization": f"Bearer {shown}"})

    return answered
