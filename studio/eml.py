"""Mail as files: each in a file of its own that mail programs open. For the demo, and where no server is named."""

import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend


class EmlBackend(BaseEmailBackend):
    """Writes each mail to `folder`, under its Message-ID: a mail that is handed over twice is one file."""

    def __init__(self, folder: str, **options: Any) -> None:
        super().__init__(**options)
        self.folder = Path(folder)

    def open(self) -> bool:
        self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        return True

    def close(self) -> None:
        """Nothing is kept open."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        self.open()
        for email in email_messages:
            message = email.message()
            name = re.sub(r"[^A-Za-z0-9.@-]", "", str(message["Message-ID"]))
            unfinished = self.folder / f".{name}.{os.getpid()}"
            unfinished.write_bytes(message.as_bytes())
            unfinished.replace(self.folder / f"{name}.eml")
        return len(email_messages)
