"""What is sent is read up to a limit and no further, whoever sends it: files are written to the disk before any form
sees them."""

from typing import Any

from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadhandler import FileUploadHandler

# More than any form of ours takes; what is larger by little is still told so by its form.
MOST_BYTES = 32 * 1024 * 1024
# A whole request: some files at once, and what is typed beside them.
MOST_IN_ALL = 4 * MOST_BYTES


class LimitedUpload(FileUploadHandler):
    """Passes on as much of each file as may be; comes before the handlers that keep it."""

    def handle_raw_input(
        self,
        input_data: Any,
        META: Any,  # noqa: N803  # So it is called by Django.
        content_length: int,
        boundary: Any,
        encoding: Any = None,
    ) -> None:
        if content_length > MOST_IN_ALL:
            raise RequestDataTooBig("More is sent than any page asks for.")

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes | None:
        return raw_data if start < MOST_BYTES else None

    def file_complete(self, file_size: int) -> None:
        return None
