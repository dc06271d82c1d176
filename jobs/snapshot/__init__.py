"""Rows -> planning input; planning result -> rows."""

from .past import read_shop_then
from .read import read_shop
from .write import write_plan

__all__ = ["read_shop", "read_shop_then", "write_plan"]
