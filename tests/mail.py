"""A mail server of the tests: it takes, refuses or breaks off as told, and remembers what it took."""

import smtplib
from collections.abc import Sequence
from typing import Any, ClassVar

from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend


class Server(BaseEmailBackend):
    """`at_open` and `at_send` are raised there; `taken` are the mails it took, as bytes would go out."""

    at_open: ClassVar[Exception | None] = None
    at_send: ClassVar[Exception | None] = None
    taken: ClassVar[list[Any]] = []

    @classmethod
    def fresh(cls) -> None:
        cls.at_open, cls.at_send, cls.taken = None, None, []

    def open(self) -> bool:
        if Server.at_open is not None:
            raise Server.at_open
        return True

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        if Server.at_send is not None:
            raise Server.at_send
        Server.taken.extend(message.message() for message in email_messages)
        return len(email_messages)


MAILERS = {name: {"BACKEND": "tests.mail.Server"} for name in ("default", "at_once")}
LATER = smtplib.SMTPResponseException(451, b"Try again later")
NEVER = smtplib.SMTPRecipientsRefused({"office@two-rivers.example": (550, b"No such user")})
