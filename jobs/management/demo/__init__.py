"""The demo studio: everything in it is invented, and all of it follows from a seed and the present time.

`floor.py` runs a floor of its own, day by day and person by person, with the duration law of `law.py`; nothing of the
planner is imported, so that the planner's dates are checked against a floor that it did not make up. History and
present are the same run: the past is what was finished before "now", the present is where the run is cut off.
"""
