"""Every write: one function a verb, a file per noun.

An action takes the rows and plain values it needs, and by keyword who does it (`by`, an Actor) and when (`at`, an
aware datetime). It owns its transaction, locks what two could change at once, checks the rule, saves, writes the
Event and marks the plan out of date. What it refuses it raises as `Refused`, with a sentence for the person.
"""

from .base import Actor, Refused

__all__ = ["Actor", "Refused"]
