"""Who works at several machines through one proxy: tablets that log, a screen that reads, desks that want papers."""

import http.client
import json
import re
import threading
import time
from collections.abc import Sequence
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

TOKEN = "a" * 32
PATIENCE = 300  # Seconds that somebody goes on without getting what they want.
WAITS, LOOKS_EVERY = 0.05, 0.3
ANSWERED = (200, 302)


class Client(threading.Thread):
    """`wanted` of what it does, `done` so far; `cut`: requests without an answer; `signed_out`: asked to sign in."""

    wanted = 0

    def __init__(self, port: int, facts: dict[str, Any]) -> None:
        super().__init__(daemon=True)
        self.port, self.facts = port, facts
        self.cookies = {"csrftoken": TOKEN}
        self.done = self.cut = self.signed_out = 0
        self.wrong: list[str] = []

    def ask(self, method: str, path: str, body: str = "", kind: str = "") -> tuple[int, str, bytes]:
        """Status (0 where there was no answer), where it leads, and its content."""
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        if body:
            headers |= {"Content-Type": kind, "X-CSRFToken": TOKEN}
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.request(method, path, body or None, headers)
            answer = connection.getresponse()
            data, leads = answer.read(), answer.getheader("Location") or ""
        except (OSError, http.client.HTTPException):
            self.cut += 1
            return 0, "", b""
        finally:
            connection.close()
        for name, value in answer.getheaders():
            if name.lower() == "set-cookie":
                self.cookies |= {key: morsel.value for key, morsel in SimpleCookie(value).items()}
        if answer.status == 502:
            self.cut += 1
            return 0, "", b""
        if "/sign-in/" in leads or answer.status == 403:
            self.signed_out += 1
        elif answer.status not in ANSWERED:
            self.wrong.append(f"{answer.status} {method} {path}")
        return answer.status, leads, data

    def sign_in(self, name: str) -> None:
        body = urlencode({"username": name, "password": self.facts["password"]})
        while self.ask("POST", "/sign-in/", body, "application/x-www-form-urlencoded")[0] != 302:
            time.sleep(WAITS)


class Tablet(Client):
    """Counts one piece after the other, and sends each again until it is acknowledged."""

    def __init__(self, port: int, facts: dict[str, Any], taps: int) -> None:
        super().__init__(port, facts)
        self.wanted = taps
        self.cookies["sessionid"] = facts["session"]

    def run(self) -> None:
        for _ in range(self.wanted):
            give_up = time.monotonic() + PATIENCE
            item = {"id": str(uuid4()), "verb": "pieces", "pk": self.facts["pk"], "who": self.facts["who"]}
            item |= {"at": int(time.time() * 1000), "fields": {"add": "1"}}
            while not self._send(item):
                if time.monotonic() > give_up:
                    return
                time.sleep(WAITS)
            self.done += 1

    def _send(self, item: dict[str, Any]) -> bool:
        body = json.dumps({"items": [item]})
        status, _, data = self.ask("POST", "/bench/-/outbox/", body, "application/json")
        return status == 200 and json.loads(data)["results"][0]["state"] == "done"


class Reader(Client):
    """Reads the floor as long as others work."""

    def __init__(self, port: int, facts: dict[str, Any], others: Sequence[Client]) -> None:
        super().__init__(port, facts)
        self.others = others

    def run(self) -> None:
        self.sign_in("reader")
        while any(map(threading.Thread.is_alive, self.others)):
            self.done += self.ask("GET", "/")[0] == 200
            time.sleep(LOOKS_EVERY)


class Office(Client):
    """Asks for all papers of a job, looks how far they are until they are there, and opens them; again and again."""

    def __init__(self, port: int, facts: dict[str, Any], name: str, bundles: int) -> None:
        super().__init__(port, facts)
        self.account, self.wanted = name, bundles
        self.asked = self.stopped = 0

    def run(self) -> None:
        self.sign_in(self.account)
        for number in range(self.wanted):
            job, patterns = ("0412", "0413")[number % 2], ("yes", "no")[number // 2 % 2]
            self._fetch(f"/papers/{job}/all/?patterns={patterns}")

    def _fetch(self, path: str) -> None:
        give_up = time.monotonic() + PATIENCE
        while not (run := self.ask("GET", path)[1]):
            if time.monotonic() > give_up:
                return
            time.sleep(WAITS)
        self.asked += 1
        while time.monotonic() < give_up:
            status, leads, data = self.ask("GET", run)
            page = data.decode()
            if "They were not made to the end" in page or leads:
                self.stopped += 1
                return
            if status == 200 and "Open the papers" in page:
                break
            time.sleep(LOOKS_EVERY)
        while time.monotonic() < give_up:
            status, _, data = self.ask("GET", f"{run}&open=now")
            if status == 200 and re.match(rb"%PDF", data):
                self.done += 1
                return
            time.sleep(WAITS)
