"""The people of a load run, for locust: tablets at the benches, and the office."""

import json
import os
import time
from itertools import cycle
from pathlib import Path
from typing import Any
from uuid import uuid4

from locust import HttpUser, between, events, task

FACTS = Path(os.environ["FACTS"])
_facts = json.loads(FACTS.read_text())
_tablets, _offices = cycle(_facts["tablets"]), cycle(_facts["offices"])
_acknowledged: list[str] = []
TOKEN = "a" * 32


@events.quitting.add_listener
def _write_down(**_: Any) -> None:
    (FACTS.parent / "acknowledged.json").write_text(json.dumps(_acknowledged))


class Tablet(HttpUser):
    """Somebody at a bench: counts a piece now and then; the page asks for news every two seconds meanwhile."""

    weight = 1
    wait_time = between(1.5, 2.5)

    def on_start(self) -> None:
        self.facts = next(_tablets)
        self.client.cookies.update(self.facts["cookies"] | {"csrftoken": TOKEN})
        self.etag = ""

    @task(8)
    def ask_for_news(self) -> None:
        answer = self.client.get("/pulse/", headers={"If-None-Match": self.etag}, name="news")
        if answer.status_code == 200:
            self.etag = answer.headers.get("ETag", "")
            self.client.get(self.facts["page"], name="bench")

    @task(2)
    def count(self) -> None:
        item = {
            "id": str(uuid4()),
            "verb": "pieces",
            "pk": self.facts["pk"],
            "at": int(time.time() * 1000),
            "who": self.facts["who"],
            "fields": {"add": "1"},
        }
        address, headers = "/bench/-/outbox/", {"X-CSRFToken": TOKEN}
        with self.client.post(
            address, json={"items": [item]}, headers=headers, name="a tap", catch_response=True
        ) as answer:
            told = answer.json()["results"][0] if answer.status_code == 200 else answer.status_code
            if answer.status_code == 200 and told["state"] == "done":
                _acknowledged.append(item["id"])
            else:
                answer.failure(str(told))


class Office(HttpUser):
    """Somebody of the office: the floor most of all, then every page in its turn."""

    weight = 1
    wait_time = between(2, 6)

    def on_start(self) -> None:
        self.client.cookies.update(next(_offices))
        self.pages = cycle(_facts["pages"].items())

    @task(1)
    def floor(self) -> None:
        self.client.get("/", name="floor")

    @task(3)
    def next_page(self) -> None:
        name, address = next(self.pages)
        self.client.get(address, name=name)
