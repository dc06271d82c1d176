"""Which drawing that is: a hash of what a customer approves of a panel."""

import hashlib
import json
from typing import Any

from .orders import Panel


def shown_of(panel: Panel) -> dict[str, Any]:
    """What a customer approves of a panel: its sizes in millimeters, how many there are, and its drawing with the
    glass of each piece. Its name and its hours are none of it."""
    return {
        "width_mm": f"{panel.width_mm:.2f}",
        "height_mm": f"{panel.height_mm:.2f}",
        "thickness_mm": f"{panel.thickness_mm:.2f}",
        "copies": panel.copies,
        "drawing": panel.drawing,
    }


def hash_of(shown: dict[str, Any]) -> str:
    """SHA-256, the same whichever database the numbers have been through; to a thousandth of a millimeter."""
    text = json.dumps(_plain(shown), sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: Any) -> Any:
    match value:
        case bool() | None | str():
            return value
        case int() | float():
            return f"{value:.3f}"
        case dict():
            return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value]
