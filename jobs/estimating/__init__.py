"""Quantities, hours and money. Pure: no Django, no clock."""
