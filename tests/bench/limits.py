"""How a figure is shown beside the limit it has to keep."""


def at_most(value: float, limit: float, unit: str = "") -> str:
    word = "kept" if value <= limit else "BROKEN"
    return f"{value:.2f}{unit} (at most {limit:g}{unit}: {word})"


def at_least(value: float, limit: float, unit: str = "") -> str:
    word = "kept" if value >= limit else "BROKEN"
    return f"{value:.2f}{unit} (at least {limit:g}{unit}: {word})"
