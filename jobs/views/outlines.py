"""Drawings and marks for long lists, for views that put them into their rows."""

from jobs.templatetags.floor import Outline, mark, outline

__all__ = ["Outline", "mark", "outline"]
