"""What may not stand in a log: the secret part of an address."""

import logging
import re

_SECRET = re.compile(r"(/c/)[^/\s'\"?]+")


class WithoutSecrets(logging.Filter):
    """Leaves out the tokens of customers' links, which open a page for whoever reads them."""

    def filter(self, record: logging.LogRecord) -> bool:
        message = record.getMessage()
        masked = _SECRET.sub(r"\1...", message)
        if masked != message:
            record.msg, record.args = masked, ()
        return True
