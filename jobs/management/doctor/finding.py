from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong, or (`wrong` False) something that the studio may want otherwise."""

    sentence: str
    wrong: bool = True


def note(sentence: str) -> Finding:
    return Finding(sentence, wrong=False)
