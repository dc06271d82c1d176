"""Django's admin, for set-up that has no page of our own, and to look at any row.

What has its own page or action is only looked at here, so that no rule can be gone around. What is changed here is
written down and marks the dates out of date as an action does; see base.
"""

from . import estimating, floor, kinds, looks, looks_floor, site, tablets, told

__all__ = ["estimating", "floor", "kinds", "looks", "looks_floor", "site", "tablets", "told"]
