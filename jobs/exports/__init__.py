"""All rows of an installation as CSV files in one zip, with a dictionary of what stands in them."""

from .archive import Written, write

__all__ = ["Written", "write"]
