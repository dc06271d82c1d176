"""Shares as the studio reads them."""

from decimal import Decimal

# The sign never stands alone at the beginning of a line.
NO_BREAK = "\N{NO-BREAK SPACE}"


def format_share(share: float | Decimal, digits: int = 0) -> str:
    """“80 %” of 0.8, with so many digits after the point; the two stay on one line."""
    return f"{float(share) * 100:.{digits}f}{NO_BREAK}%"
