"""What a browser tells of itself, in words: “Firefox on Windows”."""

# By the first of these that it names: most browsers name others besides themselves.
BROWSERS = (
    ("Edg/", "Edge"),
    ("EdgiOS/", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser/", "Samsung Internet"),
    ("Firefox/", "Firefox"),
    ("FxiOS/", "Firefox"),
    ("CriOS/", "Chrome"),
    ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
)
SYSTEMS = (
    ("iPad", "an iPad"),
    ("iPhone", "an iPhone"),
    ("Android", "Android"),
    ("CrOS", "ChromeOS"),
    ("Windows", "Windows"),
    ("Macintosh", "a Mac"),
    ("Linux", "Linux"),
)


def in_words(agent: str) -> str:
    """The browser and the system that `agent`, a User-Agent header, names, as far as they are known."""
    browser = next((name for mark, name in BROWSERS if mark in agent), "")
    system = next((name for mark, name in SYSTEMS if mark in agent), "")
    if browser and system:
        return f"{browser} on {system}"
    return browser or (f"something on {system}" if system else "an unknown device")
