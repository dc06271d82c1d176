"""Rows -> planning input; planning result -> rows."""
