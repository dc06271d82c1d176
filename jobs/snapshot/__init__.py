"""Rows -> planning input; planning result -> rows."""

from .read import read_shop
from .write import write_plan

__all__ = ["read_shop", "write_plan"]
