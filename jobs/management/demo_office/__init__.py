"""What the office of the demo studio has written, with the product's own actions: takeoffs, quotes, purchases.

The floor of the demo (jobs.management.demo) takes nothing from the planner and the actions; this comes after it.
"""
